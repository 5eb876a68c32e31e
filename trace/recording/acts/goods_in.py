"""Goods-in: booking what stands on the dock, its certificate, and its release."""

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop
from django.utils.translation import ngettext

from trace.codes import AmountError, parse_amount, printable, printed
from trace.readmodels.rows import Rows, stamp
from trace.recording.acts import hold_words
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor import words as say
from trace.recording.floor.readings import reading
from trace.recording.floor.sources import (
    certificate_of,
    expired,
    issue_codes,
    lock_lot,
    lot_facts,
    lot_known,
    lot_status,
)
from trace.recording.floor.standing import Floor, Found
from trace.recording.floor.units import AT_GATE

UOM_OF_KIND = {
    "powder": "mg", "foam": "mg", "pigment": "mg", "release agent": "mg", "insert": "pc", "graphic": "pc", "part": "pc",
    "rod": "mg",
}  # fmt: skip
CONTAINER_OF_KIND = {"insert": "container", "graphic": "roll"}
CARRIERS = ("container", "vessel", "tub", "drop_box", "roll", "returnable")
DAY = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")


def carrier_trouble(kind: str) -> str:
    """A sentence when this is no kind of carrier, else ""."""
    return "" if kind in CARRIERS else f"“{kind[:20]}” is no kind of carrier: choose one from the list."


@dataclass(frozen=True, kw_only=True)
class Receive(Command):
    """Book a delivery of one lot: one label per container. `hold_reason` books it on hold, whatever it is.

    amounts: what each container holds, in kg or pieces as typed. made, expires: dates, or "". On hold nothing of it
    has to be known: what cannot be read is a gap of its containers, and so is a photo that was not taken.
    """

    KIND = "received"
    NAME = noop("goods in")
    TASK = "goods-in"

    supplier: str
    material: str
    lot_no: str = ""
    amounts: tuple[str, ...] = ()
    note_no: str = ""
    note_amount: str = ""
    made: str = ""
    expires: str = ""
    seal_paper: str = ""
    seal_seen: str = ""
    place: str = scanned("place", optional=True)
    vessel_kind: str = ""
    hold_reason: str = words()
    photo: str = ""

    @staticmethod
    def told(e: Told) -> str:
        count = len(e.says["amounts"]) or 1
        words = ngettext(
            "Received: %(material)s lot %(lot)s, %(count)d container from %(supplier)s",
            "Received: %(material)s lot %(lot)s, %(count)d containers from %(supplier)s", count,
        )  # fmt: skip
        return words % {
            "material": e.says["material"], "lot": e.says["lot_no"].strip() or _("not recorded"), "count": count,
            "supplier": e.name_of("supplier", e.says["supplier"]),
        }  # fmt: skip


def receive_facts(c: Receive, floor: Floor) -> Facts:
    material = floor.plant.get("material", c.material)
    supplier = floor.plant.get("supplier", c.supplier)
    uom = UOM_OF_KIND.get(str((material.body if material else {}).get("kind")), "mg")
    amounts = [_amount(a, uom) for a in c.amounts]
    total = sum(a or 0 for a in amounts)
    noted = _amount(c.note_amount, uom) if c.note_amount else total
    known = bool(amounts) and None not in (*amounts, noted)
    trouble = "" if c.hold_reason else _amounts_trouble(c, uom) or _dates_trouble(c)
    return {
        "typed": {"trouble": trouble or carrier_trouble(c.vessel_kind or "container")},
        "delivery": {
            "material": c.material,
            "supplier": c.supplier,
            "known_material": material is not None,
            "known_supplier": supplier is not None,
            "approved": bool(supplier and c.material in supplier.body.get("materials", [])),
            "lot_no": c.lot_no,
            "total": say.amount(total, uom),
            "noted": say.amount(noted, uom),
            "short": known and total != noted,
            "seal_differs": c.seal_paper.strip() != c.seal_seen.strip(),
            "seal_paper": c.seal_paper or "none",
            "seal_seen": c.seal_seen or "none",
            "expired": expired(c.expires, floor.day),
            "expires": c.expires,
            "on_hold": bool(c.hold_reason),
            "note_booked": bool(c.note_no and lot_known(c.supplier, c.material, c.lot_no, note_no=c.note_no)),
            "note_no": c.note_no,
        },
    }


def _amount(text: str, uom: str) -> int | None:
    """What a container holds as typed; None when it cannot be read: no amount is never zero."""
    try:
        return parse_amount(text, uom) or None
    except AmountError:
        return None


def _amounts_trouble(c: Receive, uom: str) -> str:
    try:
        amounts = [parse_amount(a, uom) for a in c.amounts]
        if c.note_amount:
            parse_amount(c.note_amount, uom)
    except AmountError as error:
        return str(error)
    if not amounts:
        return "How many containers there are cannot be read: write a whole number, 1 to 200."
    return "A container without an amount cannot be booked: write what it holds." if 0 in amounts else ""


def _gaps(c: Receive) -> list[str]:
    """What is missing from a delivery that is booked on hold, apart from the amount in each container."""
    missing = {
        "lot number": not c.lot_no.strip(),
        "number of containers": not c.amounts,
        "date made": bool(date_trouble("", c.made)),
        "use-by date": bool(date_trouble("", c.expires)),
        "photo": not c.photo,
    }
    return [what for what, is_missing in missing.items() if is_missing] if c.hold_reason else []


def _dates_trouble(c: Receive) -> str:
    if trouble := date_trouble("the day it was made", c.made) or date_trouble("the use-by date", c.expires):
        return trouble
    if not c.lot_no.strip():
        return "The lot number is missing: copy it from the supplier's label."
    return ""


def date_trouble(name: str, text: str) -> str:
    """Why a text is no date, as a sentence; nothing is no trouble."""
    try:
        if text and not (DAY.fullmatch(text) and date.fromisoformat(text)):
            raise ValueError(text)
    except ValueError:
        return f"“{text[:20]}” is not a date: write {name} like 2026-04-30 (year-month-day)."
    return ""


def _about_delivery(c: Receive, floor: Floor, gaps: list[str]) -> Facts:
    """What is said of a delivered lot and of each of its containers; a date that is a gap is not said."""
    return {
        "material": c.material,
        "supplier": c.supplier,
        "made": None if "date made" in gaps else c.made or None,
        "expires": None if "use-by date" in gaps else c.expires or None,
        "note_no": c.note_no or None,
        "material_revision": getattr(floor.plant.get("material", c.material), "version", None),
    }


def _lot_for(c: Receive, rows: Rows, lot_no: str | None, about: Facts) -> str:
    """The lot of a delivery: the one that came under this number before, else a new one in quarantine."""
    lot = None
    if lot_no:
        lock_lot(c.supplier, c.material, lot_no)
        lot = lot_known(c.supplier, c.material, lot_no)
    if lot is None:
        lot = rows.unit("lot", lot_no=lot_no, about=about, status="quarantine")
    return lot


def _and_amount(gaps: list[str], amounts: list[int | None]) -> list[str]:
    """The gaps of containers that hold these amounts: one that nobody could read is a gap as well."""
    return [*gaps, *(["amount"] if None in amounts else [])]


@handles(Receive, receive_facts)
def receive(c: Receive, floor: Floor, rows: Rows) -> str:
    kind = floor.plant.body("material", c.material).get("kind", "")
    uom = UOM_OF_KIND.get(kind, "mg")
    gaps = _gaps(c)
    lot_no = c.lot_no.strip() or None
    about = _about_delivery(c, floor, gaps)
    place = floor[c.place].key or "DOCK"
    lot = _lot_for(c, rows, lot_no, about)
    rows.touch(lot, "received")
    # Nobody could say how many: one label, for all that stands there.
    amounts = [_amount(typed, uom) for typed in c.amounts] or [None]
    codes = issue_codes(len(amounts))
    for code, amount in zip(codes, amounts, strict=True):
        carrier = rows.carrier(c.vessel_kind or CONTAINER_OF_KIND.get(kind, "container"))
        content = rows.unit(
            "content", amount=amount, uom=uom, carrier=carrier, lot_no=lot_no, about={**about, "lot": lot},
            status="quarantine", place=place,
        )  # fmt: skip
        for what in _and_amount(gaps, [amount]):
            rows.gap(content, what, "")
        rows.edge(content, lot, "receive", amount=amount, uom=uom)
        rows.fill(carrier, content, floor.happened)
        rows.label(code, carrier=carrier)
        if c.hold_reason:
            rows.hold(content, "booked on hold")
    rows.photo(c.photo)
    booked = "on hold" if c.hold_reason else "in quarantine"
    missing = _and_amount(gaps, amounts)
    said = f"; not recorded: {', '.join(missing)}" if missing else ""
    return f"{say.lot_name(about, lot_no)}: {len(codes)} booked {booked}{said}"


CONDITIONAL = "conditionally released"
RELEASED = ("released", CONDITIONAL)
AFTER_RELEASE = "CERTIFICATE-AFTER-RELEASE"


@dataclass(frozen=True, kw_only=True)
class Certify(Command):
    """A lot's certificate as read: values by name (mfi, density, …), the lot named on it, the finish if any."""

    KIND = "certified"
    NAME = noop("certificate")

    container: str = scanned("container", "roll", "vessel", "lot")
    lot_on_certificate: str
    values: dict[str, str]
    finish: str = ""
    document: str = ""

    @staticmethod
    def told(e: Told) -> str:
        values = ", ".join(f"{name} {value}" for name, value in sorted(e.says["values"].items()))
        finish = _(", finish %(finish)s") % {"finish": e.says["finish"]} if e.says.get("finish") else ""
        return _("Certificate of lot %(lot)s read: %(values)s%(finish)s") % {
            "lot": e.says["lot_on_certificate"], "values": values or _("no values"), "finish": finish,
        }  # fmt: skip


def certify_facts(c: Certify, floor: Floor) -> Facts:
    trouble = ""
    for name, text in c.values.items():
        if reading(text) is None:
            trouble = f"“{text[:20]}” is not a value for {name}: write digits and a decimal point, as in 0.938."
        elif text.strip().startswith("-"):
            trouble = f"“{text[:20]}” is not a value for {name}: no value on a certificate is below nothing."
    unit = floor[c.container].unit
    material = floor.plant.body("material", unit.about.get("material") if unit else None)
    outside = "" if trouble else outside_limits(material.get("spec", {}), c.values)
    return {
        "typed": {"trouble": trouble},
        "certificate": {
            "other_lot": bool(unit and c.lot_on_certificate != unit.lot_no),
            "names": printable(c.lot_on_certificate),
            "lot": say.lot_name(unit.about if unit else {}, unit.lot_no if unit else None),
            "outside": outside,
            "unfit": _unfit(material, c, outside),
            "after_release": bool(unit and lot_status(_lot_of(floor[c.container])) in RELEASED),
        },
    }


def _unfit(material: Facts, c: Certify, outside: str) -> str:
    """What on this certificate would have refused the release of its lot, in words."""
    wanted = material.get("finish")
    finish = f"finish {c.finish.strip() or 'missing'}, {wanted} is asked for" if wanted and c.finish != wanted else ""
    return ", ".join(part for part in (outside, finish) if part)


def outside_limits(spec: Facts, values: dict[str, str]) -> str:
    """The values that are missing from a certificate or outside the material's limits, with these; "" for none."""
    outside = []
    for name, (low, high) in sorted(spec.items()):
        value = values.get(name)
        if value is None or not Decimal(low) <= Decimal(value) <= Decimal(high):
            outside.append(f"{name} {value or 'missing'} (limits {low} to {high})")
    return ", ".join(outside)


@handles(Certify, certify_facts)
def certify(c: Certify, floor: Floor, rows: Rows) -> str:
    lot = _lot_of(floor[c.container])
    paper = certify_facts(c, floor)["certificate"]
    rows.touch(lot, "certified")
    unit = floor[c.container].unit
    already = unit is not None and AFTER_RELEASE in {h["rule"] for h in unit.holds}
    if paper["after_release"] and paper["unfit"] and not already:
        # It was released on less: what is left of it, and all that was made of it, waits for quality.
        rows.hold(lot, AFTER_RELEASE)
    for name, text in sorted(c.values.items()):
        rows.reading(name, text, "", unit=lot)
    return f"certificate of lot {c.lot_on_certificate}"


def _lot_of(found: Found) -> str:
    assert found.unit is not None  # noqa: S101 - the basic rules have made sure of it
    return found.unit.uid if found.unit.kind == "lot" else str(found.unit.about.get("lot", found.unit.uid))


@dataclass(frozen=True, kw_only=True)
class Release(Command):
    """Take a lot out of quarantine: every container of it that is in quarantine now."""

    KIND = "released"
    NAME = noop("release")
    DECISION = True
    # One that is confirmed ends a hold, and one that is conditional lays it.
    ALONE = True

    container: str = scanned("container", "roll", "vessel", "lot")
    conditional: bool = False
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        word = _("Released conditionally") if e.says.get("conditional") else _("Released")
        return f"{word}: {printed(str(e.says['container']))}"


def release_facts(c: Release, floor: Floor) -> Facts:
    found = floor[c.container]
    unit = found.unit
    about = unit.about if unit else {}
    material = floor.plant.body("material", about.get("material"))
    paper = certificate_of(_lot_of(found)) if unit else None
    did = lot_facts(_lot_of(found)).get("did", []) if unit else []
    wanted = material.get("finish")
    return {
        "lot": {
            "name": say.lot_name(about, unit.lot_no if unit else None),
            "status": (unit.status if unit else None) or "unknown",
            "held": bool(unit and unit.holds),
            "hold": hold_words.held_by(unit),
            "expired": expired(about.get("expires"), floor.day),
            "expires": about.get("expires", ""),
            "certificate": paper is not None,
            "certificate_lot": (paper or {}).get("lot_on_certificate", ""),
            "lot_differs": bool(paper and unit and paper["lot_on_certificate"] != unit.lot_no),
            "outside": outside_limits(material.get("spec", {}), paper.get("values", {})) if paper else "",
            "finish_wanted": wanted or "",
            "finish_seen": (paper or {}).get("finish", "") or "nothing",
            "finish_differs": bool(wanted and (paper or {}).get("finish", "") != wanted),
            "certified_by_you": ["certified", floor.by.person] in did,
            "booked_by_you": ["received", floor.by.person] in did,
        }
    }


@handles(Release, release_facts)
def release(c: Release, floor: Floor, rows: Rows) -> str:
    unit = floor[c.container].unit
    assert unit is not None  # noqa: S101
    lot = _lot_of(floor[c.container])
    status = CONDITIONAL if c.conditional else "released"
    rows.status(lot, status, at=stamp(floor.now))
    known = lot_facts(lot)
    for content, was in known["waiting"]:
        if was != status:
            rows.status(content, status, at=stamp(floor.now))
    if c.conditional and not known["at_gate"]:
        # Of what is made with it nothing leaves before the test is in.
        rows.hold(lot, AT_GATE)
    for hold in [] if c.conditional else known["at_gate"]:
        rows.release_hold(hold, None)
        rows.touch(lot, "hold released")
    return f"{say.lot_name(unit.about, unit.lot_no)} {status}"
