"""What comes into a carrier while its history is gone through: by the records, and by what a late act says."""

from datetime import datetime
from typing import Any

from trace.recording.floor.changes import ALL, Put, Stood, Took
from trace.recording.told_late.contents import Goes, Run, Way, as_took, mixed_about, said_again, worse
from trace.recording.told_late.derived import Derived, way_name, weighed_as
from trace.recording.told_late.going_out import take
from trace.recording.told_late.history import Content, usable_as


def enter(d: Derived, carrier: Goes, content: Content, at: datetime) -> None:
    """A content of the records, on what is in the carrier now."""
    heels = [e for e in d.edges if e["child"] == content.uid and e["role"] == "heel"]
    ways = _ways_into(d, content)
    amount = None if content.amount is None else content.amount + _more(d, content)
    put_in = None if amount is None else amount - sum(e["amount"] or 0 for e in heels)
    put_in = _poured(d, ways, put_in)
    about, lot_no, status = _of_put(d, content, ways, heels)
    if content.kind == "charge":
        run = _charge(d, carrier, content, put_in, heels, about, lot_no)
    else:
        run = _mixed(d, carrier, put_in, content.uom, about, lot_no, status, heels, at)
        run.uid, run.old, run.place = content.uid, content, content.place
        if content.about.get("opened"):
            run.about = {**run.about, "opened": content.about["opened"]}
    d.runs[content.uid] = run
    for way in ways:
        _come_in(d, run, way)
    carrier.begin(run, at)


def _poured(d: Derived, ways: list[Way], put_in: int | None) -> int | None:
    """What was put in; of a tub that was tipped back whole, what was in that then."""
    for way in ways:
        source = d.carriers.get(way.took.carrier or "")
        if way.took.position == ALL and way.parent is None and not way.before and source is not None:
            return source.now.left or None if source.now is not None else None
    return put_in


def _come_in(d: Derived, run: Run, way: Way) -> None:
    """What went into a content comes out of what its source holds now, where that is gone through as well."""
    way.child = run
    source = d.carriers.get(way.took.carrier or "")
    if way.parent is not None or way.before or source is None:
        d.ways.append(way)
    else:
        take(d, source, way)


def _more(d: Derived, content: Content) -> int:
    """By how much a correction says that more went in. Withdrawn and nothing in its place: what went in stays."""
    added = [t for t in d.changes.took if t.child == content.uid]
    gone = [e for e in d.changes.withdrawn if e["child"] == content.uid]
    return sum(t.amount or 0 for t in added) - sum(e["amount"] or 0 for e in gone) if added else 0


def _ways_into(d: Derived, content: Content) -> list[Way]:
    """What was put into a content, apart from the heel: with its parent where that is not gone through itself."""
    return [*_recorded_into(d, content), *_corrected_into(d, content), *_missed_into(d, content)]


def _recorded_into(d: Derived, content: Content) -> list[Way]:
    """What the edges say was put into a content."""
    ways = []
    for edge in d.edges:
        if edge["child"] == content.uid and edge["role"] != "heel":
            home = d.home.get(edge["parent"])
            home = home if home is not None and home.begun(edge) else None
            parent = None if home else edge["parent"]
            ways.append(Way(as_took(home.uid if home else None, edge), "", parent, edge["amount"], edge=edge))
    return ways


def _corrected_into(d: Derived, content: Content) -> list[Way]:
    """What this act says was put into a content, or what it withdraws with nothing in its place."""
    added = [t for t in d.changes.took if t.child == content.uid]
    if added:
        return [Way(t, "", t.parent, t.amount) for t in added]
    gone = [e for e in d.changes.withdrawn if e["child"] == content.uid]
    return [Way(as_took(None, e), "", None, e["amount"]) for e in gone]


def _missed_into(d: Derived, content: Content) -> list[Way]:
    """What was put into a content out of a carrier that was empty by the book, each draw once."""
    ways = []
    righted = said_again(d.changes)
    missed = {
        way_name(m): m
        for c in d.carriers.values()
        for m in c.history.missed
        if m["child"] == content.uid and (m["child"], m["of"]) not in righted
    }
    for m in missed.values():
        source = d.carriers.get(m["carrier"] or "")
        before = source is None or m["at"] <= source.history.start
        ways.append(Way(as_took(m["carrier"], m), "", None, m["amount"], missed=m, before=before))
    return ways


def _of_put(
    d: Derived, content: Content, ways: list[Way], heels: list[dict[str, Any]]
) -> tuple[dict[str, Any], str | None, str | None]:
    """What was put in, apart from the heel, as (about, lot number, status): what its source was then."""
    first = usable_as(content.statuses, content.since)
    booked = d.changes.booked.get(content.uid)
    if booked is not None:
        return booked.about, booked.lot_no, booked.status
    if not ways or (not heels and ways[0].took.role == "receive"):
        return content.about, content.lot_no, first
    way = ways[0]
    if way.parent is None:
        return _of_source(d, content, way)
    if way.edge is None:
        return content.about, content.lot_no, first
    edge = way.edge
    about = {**edge["parent_about"], "lot": edge["parent_lot"]}
    return about, edge["parent_lot_no"], usable_as(edge["parent_statuses"], edge["at"]) or first


def _of_source(d: Derived, content: Content, way: Way) -> tuple[dict[str, Any], str | None, str | None]:
    """(about, lot number, status) of what came out of a carrier that is gone through, as it stands now; of what came
    out of nobody knows what, the material alone."""
    source = None if way.before else d.carriers.get(way.took.carrier or "")
    if source is not None and source.now is not None:
        # What a charge is says nothing of what the powder may be used as.
        return source.now.about, source.now.lot_no, None if source.now.kind == "charge" else source.now.status
    if way.took.carrier is None:
        return {k: content.about[k] for k in ("material", "materials") if k in content.about}, None, "unknown"
    return {}, None, "unknown"


def _mixed(
    d: Derived,
    carrier: Goes,
    amount: int | None,
    uom: str,
    about: dict[str, Any],
    lot_no: str | None,
    status: str | None,
    heels: list[dict[str, Any]],
    at: datetime,
) -> Run:
    """What a filling makes of what is in the carrier."""
    now = carrier.now
    heel = now.left if now is not None and now.uom == uom else 0
    mix = mixed_about((now.about, now.lot_no) if now and heel else None, about, lot_no)
    if now is not None and now.holds:
        status = worse(status, now.status) or status
    total = None if amount is None else heel + amount
    run = Run("", "content", uom, total, mix["about"], mix["lot_no"], total, status)
    _leave_heel(d, carrier, run, heel or None, heels, at)
    return run


def _goes_on(now: Run, content: Content) -> bool:
    """Whether a charge is that which is in the tub, with another bag on it or for another order."""
    if content.about.get("from_order"):
        return bool(now.about.get("order") == content.about["from_order"])
    return now.part and all(now.about.get(k) == content.about.get(k) for k in ("order", "layer"))


def _charge(
    d: Derived,
    carrier: Goes,
    content: Content,
    put_in: int | None,
    heels: list[dict[str, Any]],
    about: dict[str, Any],
    lot_no: str | None,
) -> Run:
    """A charge weighed into a tub: on top of the part of it that is there already, else beside whatever is in there."""
    now = carrier.now
    goes_on = now is not None and _goes_on(now, content)
    heel = now.left if now is not None and goes_on else 0
    same = now is None or not heel or now.about.get("lot") == about.get("lot")
    own = {**content.about, "material": about.get("material"), "lot": about.get("lot") if same else None}
    status = weighed_as(content)
    amount = None if put_in is None else heel + put_in
    run = Run(
        content.uid, "charge", content.uom, amount, own, lot_no if same else None, amount, status, old=content,
        part=status == "part weighed", place=content.place,
    )  # fmt: skip
    if now is not None and goes_on and not heel:
        now.end = "topped up"
    elif now is not None and (heel or now.holds):
        if not goes_on:
            d.looks.append(("weighed into a tub that was not empty", run))
        _leave_heel(d, carrier, run, heel or None, heels, content.since, ends=goes_on)
    return run


def _leave_heel(
    d: Derived,
    carrier: Goes,
    run: Run,
    heel: int | None,
    heels: list[dict[str, Any]],
    at: datetime,
    *,
    ends: bool = True,
) -> None:
    """Nothing left by the book is not proved empty: a heel without an amount keeps it a "may"."""
    now = carrier.now
    if now is None:
        return
    layer = run.about.get("layer") if run.kind == "charge" else None
    took = Took(carrier.uid, at, "", heel, run.uom, "heel", layer)
    d.heels.append(Way(took, run, now, heel, edge=heels[0] if heels else None))
    if now.balance is not None:
        now.balance -= heel or 0
    if ends:
        now.end = "topped up"


def put_on(d: Derived, carrier: Goes, put: Put) -> None:
    """A top-up that is told now, on what is in the carrier then."""
    source = d.carriers.get(put.source or "")
    about, lot_no, status = put.about, put.lot_no, put.status
    if source is not None and source.now is not None:
        own = None if source.now.kind == "charge" else source.now.status
        about, lot_no, status = source.now.about, source.now.lot_no, own or status
    elif source is not None:
        about, lot_no, status = {}, None, "unknown"
    took = Took(put.source, put.at, "", put.amount, put.uom, "topup", position=put.position, unsure=put.unsure)
    way = Way(took, "", None, put.amount)
    amount = _poured(d, [way], put.amount)
    run = _mixed(d, carrier, amount, put.uom, about, lot_no, worse(status, put.status), [], put.at)
    run.place = carrier.now.place if carrier.now else None
    way.child = run
    if source is None:
        d.ways.append(way)
    else:
        take(d, source, way)
    carrier.begin(run, put.at)


def stand(d: Derived, carrier: Goes, stood: Stood) -> None:
    """A charge that is weighed now, told late: it stands in its tub from then."""
    if any(c.since > stood.at for c in carrier.history.later):
        d.looks.append(("late charge: the tub was used since", stood.charge))
    made = next(u for u in d.made["units"] if u["uid"] == stood.charge)
    status = next((s["status"] for s in d.made["statuses"] if s["unit"] == stood.charge), "weighed")
    run = Run(
        stood.charge, "charge", "mg", made["amount"], made["about"], made["lot_no"], made["amount"], status, fixed=True,
        part=status == "part weighed",
    )  # fmt: skip
    d.runs[stood.charge] = run
    if carrier.now is not None:
        _weighed_on_top(d, carrier.now, stood.charge)
    carrier.begin(run, stood.at)


def _weighed_on_top(d: Derived, before: Run, charge: str) -> None:
    """The bag before it in the same tub: the weighing itself says how much of that is in it."""
    heels = [e for e in d.made["edges"] if (e["child"], e["role"]) == (charge, "heel")]
    if before.balance is not None:
        before.balance -= sum(e["amount"] or 0 for e in heels)
    before.end = "topped up"
