"""Holds laid and ended, with reason and owner."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from trace import lookup
from trace.readmodels.rows import moment
from trace.recording.acts import hold_words
from trace.recording.acts.holds import HOLDABLE, Hold, ReleaseHold
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor import words as say
from trace.recording.floor.standing import UnitFacts
from trace.scan.page import Field, Row
from trace.scan.sight import RECORDS, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import choice, press, reason_of, why
from trace.speech import spoken


def slots(sight: Sight) -> tuple[Slot, ...]:
    clears = ("hold", "why", "why_words", "laid")
    return (Slot("thing", HOLDABLE, _("Scan the lot, container, mould or hull"), clears=clears),)


def unit(sight: Sight) -> UnitFacts | None:
    found = sight.one("thing")
    return (found.load or found.unit) if found else None


def fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("thing"):
        return ()
    rules = [
        ("quality", _("Quality")),
        ("safety", _("Safety")),
        ("stop-use", _("Stop use")),
        ("question", _("A question")),
    ]
    reasons = [
        ("values in question", _("Values in question")),
        ("damage", _("Damage")),
        ("wrong label", _("Wrong label")),
        ("complaint", _("Complaint")),
        ("instrument in doubt", _("Instrument in doubt")),
    ]
    reason = replace(why(reasons, ask=_("Say why")), hint=words_of(sight), gives=_("Lay the hold"), enter="hold")
    return (choice("kind", _("Hold for"), rules, value="quality"), *whole_lot(sight), reason)


def whole_lot(sight: Sight) -> tuple[Field, ...]:
    """Of a container: whether its whole lot is meant. A lot's page sends here with the lot chosen."""
    one = unit(sight)
    if one is None or not _has_lot(sight):
        return ()
    words = {"lot": say.lot_name(one.about, one.lot_no), "box": sight.found[sight.text("thing")].name}
    pairs = [
        ("no", _("only what is in %(box)s") % words),
        ("yes", _("the whole lot: %(lot)s, every container of it and what came of it") % words),
    ]
    return (choice("whole_lot", _("Hold"), pairs, value="yes" if sight.text("whole_lot") == "yes" else "no"),)


def _has_lot(sight: Sight) -> bool:
    one = unit(sight)
    return bool(one and one.about.get("lot"))


def commands(sight: Sight) -> Sequence[Command] | None:
    if not sight.text("thing") or sight.do != "hold":
        return None
    return [
        Hold(
            code=sight.text("thing"), rule=sight.text("kind") or "quality", whole_lot=sight.text("whole_lot") == "yes",
            reason=reason_of(sight),
        )
    ]  # fmt: skip


def words_of(sight: Sight) -> str:
    one = unit(sight)
    if one is None:
        return _("nothing is in it")
    name = one.serial or say.lot_name(one.about, one.lot_no) if one.about.get("material") or one.serial else one.kind
    if _has_lot(sight) and sight.text("whole_lot") == "yes":
        return _("the whole lot %(name)s, %(status)s") % {"name": name, "status": one.status or ""}
    return f"{name}, {one.status or ''}"


def rows(sight: Sight) -> tuple[Row, ...]:
    """Every open hold on it: why, who, when; right after one was laid, what it stops."""
    one = unit(sight)
    if one is None:
        return stops(sight)
    texts = [f"{hold_words.reason(h)}, {say.person(h['person'])}" for h in one.holds]
    return tuple(
        Row(
            _("On hold: %(rule)s") % {"rule": h["rule"]},
            text,
            note=True,
            when=moment(h["happened"]) if h["happened"] else None,
        )
        for h, text in zip(one.holds, spoken(texts), strict=True)
    )


def stops(sight: Sight) -> tuple[Row, ...]:
    """What the hold just laid is on, in hulls and mouldings."""
    found = lookup.stopped_by(sight.text("laid")) if sight.text("laid") else None
    if found is None:
        return ()
    words = [
        ngettext("%(n)d hull in the plant", "%(n)d hulls in the plant", found["here"]) % {"n": found["here"]},
        ngettext("%(n)d hull that has left", "%(n)d hulls that have left", found["gone"]) % {"n": found["gone"]},
        ngettext("%(n)d moulding without a plate", "%(n)d mouldings without a plate", found["unbound"])
        % {"n": found["unbound"]},
    ]
    more = ""
    if found["spreading"]:
        more = _("still being followed through the plant (%(n)d things so far), and in force meanwhile") % {
            "n": found["units"]
        }
    elif found["more"]:
        more = _("and more: it is on too many things to count here")
    return (Row(_("This hold is on"), ", ".join(part for part in (*words, more) if part), note=True),)


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    return {"laid": str(next(iter(answers[0].made.get("holds", [])), ""))}


HOLD = Station(
    slug="hold",
    title=gettext_lazy("Hold"),
    home=Home(RECORDS, 10, gettext_lazy("Stop a lot, a hull or what comes of it")),
    roles=("quality", "deputy", "lead"),
    slots=slots,
    fields=fields,
    commands=commands,
    # The reason and the hold are one press; the button alone stands where the reason was said before.
    actions=lambda sight: (
        (press("hold", _("Lay the hold"), "stop", bare=False),) if sight.text("thing") and reason_of(sight) else ()
    ),
    rows=rows,
    after=after,
    next=lambda sight: (
        Next(_("Lay the hold: it stops at once"), words_of(sight)) if sight.text("thing") else None
    ),
    half_done=False,
)


def release_fields(sight: Sight) -> tuple[Field, ...]:
    one = unit(sight)
    if one is None:
        return ()
    holds = [h for h in one.holds if h["uid"]]
    uids = [h["uid"] for h in holds]
    pairs = list(zip(uids, spoken([_named(h, one) for h in holds]), strict=True))
    reasons = [
        ("tested and found good", _("Tested and found good")),
        ("put right", _("Put right")),
        ("laid by mistake", _("Laid by mistake")),
    ]
    return (
        choice("hold", _("Which hold"), pairs, value=uids[0] if len(uids) == 1 else "", ask=_("Which hold ends?")),
        # Ending the hold of a lot because one hull of it was found good is never meant by default.
        choice(
            "scope",
            _("For"),
            [("this", _("only what was scanned")), ("all", _("everything the hold is on"))],
            value=_scope(one),
        ),
        why(reasons, ask=_("Why does it end?")),
    )


def _scope(one: UnitFacts) -> str:
    """What is meant where nobody says so: only a hold that was laid on this very thing ends altogether."""
    return "all" if all(h["on"] == one.id for h in one.holds) else "this"


def _named(hold: Mapping[str, Any], one: UnitFacts) -> str:
    """What it was laid on, why, when, and how many hulls it is on: enough to tell it from its neighbours."""
    reach = lookup.stopped_by(hold["uid"]) or {"here": 0, "gone": 0}
    hulls = reach["here"] + reach["gone"]
    of = "" if hold["on"] == one.id or not hold["of"] else f"{hold['of']}: "
    reason = f"{hold['rule']}: {hold_words.reason(hold)}" if hold["why"] else hold_words.reason(hold)
    on = ngettext("on %(n)d hull", "on %(n)d hulls", hulls) % {"n": hulls}
    if reach.get("more") or reach.get("spreading"):
        on = ngettext("on %(n)d hull or more", "on %(n)d hulls or more", hulls) % {"n": hulls}
    return f"{of}{reason}, {say.clock(hold['happened'])}, {on}"


def release_commands(sight: Sight) -> Sequence[Command] | None:
    one = unit(sight)
    if one is None or not sight.text("thing") or (sight.typed and not reason_of(sight)):
        return None
    uids = [h["uid"] for h in one.holds if h["uid"]]
    hold = sight.text("hold") or (uids[0] if len(uids) == 1 else "")
    if not sight.do and not reason_of(sight):
        return None
    code = "" if (sight.text("scope") or _scope(one)) == "all" else sight.text("thing")
    return [ReleaseHold(hold=hold, code=code, reason=reason_of(sight))]


RELEASE_HOLD = Station(
    slug="release-hold",
    title=gettext_lazy("End a hold"),
    home=Home(RECORDS, 20, gettext_lazy("Let held things go on")),
    roles=("quality", "deputy"),
    slots=slots,
    fields=release_fields,
    commands=release_commands,
    actions=lambda sight: (press("end", _("End the hold")),) if sight.text("thing") else (),
    rows=rows,
    next=lambda sight: Next(_("Choose the hold and say why it ends"), words_of(sight)) if sight.text("thing") else None,
    half_done=False,
)
