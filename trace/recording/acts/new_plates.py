"""A hull whose plate was burnt, painted over or lost gets another one; both numbers find it from then on."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.rows import Rows
from trace.recording.acts.demould import plate_facts, used_up
from trace.recording.acts.finishing import AWAY
from trace.recording.acts.hold_words import held_by
from trace.recording.acts.holds import SAFETY
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.standing import Floor, UnitFacts

# What became of the plate before, in the trade's words: common practice, no source.
CAUSES = {
    "burnt": noop("burnt"), "painted": noop("painted over"), "lost": noop("lost"), "damaged": noop("damaged"),
    "other": noop("another reason"),
}  # fmt: skip
REPLACED = "replaced"


@dataclass(frozen=True, kw_only=True)
class ReplacePlate(Command):
    """A hull's plate is replaced by one that was checked out. hull: its number until now, scanned or typed; cause: one
    of CAUSES. Two people see the hull and both numbers (`By.helper`). The plate before counts no more.
    """

    KIND = "plate_replaced"
    NAME = noop("replace a plate")

    hull: str = scanned("hull")
    plate: str = scanned("plate")
    cause: str
    photo: str = ""
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Plate %(old)s %(why)s: replaced by plate %(new)s") % {
            "old": _plate_before(e) or printed(e.says["hull"]), "new": e.says["plate"],
            "why": _(CAUSES.get(e.says["cause"], e.says["cause"])),
        }  # fmt: skip


def _plate_before(e: Told) -> str:
    """The number that counts no more by this event."""
    return next((str(row["text"]) for row in e.part("serial_stands") if row["standing"] == REPLACED), "")


def _has_used(hull: UnitFacts | None, plate: str) -> bool:
    return bool(hull and hull.serial == plate)


def replace_facts(c: ReplacePlate, floor: Floor) -> Facts:
    found, plate = floor[c.hull], floor[c.plate]
    hull = found.hull or found.unit
    serial = found.serial or {}
    # The number before says the month of building; where it says none, the day on which the hull got it does.
    month = serial.get("month") or (f"{floor.plant.calendar.day(hull.made):%Y-%m}" if hull else "")
    product = str(hull.about.get("product")) if hull else "unknown"
    held = hull.holds if hull else []
    return {
        "plate": plate_facts(plate, {product}, str(month)) | {"its_own": _has_used(hull, plate.code)},
        "relabel": {
            "hull": printed(found.code),
            "product": product,
            "no_cause": c.cause not in CAUSES or (c.cause == "other" and not c.reason.strip()),
            "alone": floor.by.helper in ("", floor.by.person),
            "gone": bool(hull and hull.status in AWAY),
            "status": (hull.status if hull else None) or "unknown",
            "held": bool(held) and not any(hold["rule"] in SAFETY for hold in held),
            "safety": any(hold["rule"] in SAFETY for hold in held),
            "hold": held_by(hull),
        },
    }


@handles(ReplacePlate, replace_facts)
def replace_plate(c: ReplacePlate, floor: Floor, rows: Rows) -> str:
    found, plate = floor[c.hull], floor[c.plate]
    hull = found.hull or found.unit
    assert hull is not None  # noqa: S101 - the code was asked to be a hull's
    rows.touch(hull.uid, "plate replaced")
    rows.photo(c.photo)
    if used_up(plate) or plate.unit is None:
        # Told of a plate that is another hull's by the record: both stay as they are until somebody has looked.
        rows.discrepancy("a plate that was used already was put on a hull", hull.uid)
        return f"{plate.code} is used by the record: nothing was changed"
    if hull.serial:
        rows.serial_stands(hull.serial, REPLACED, None)
    for before in (inside for inside in hull.inside if inside["role"] == "plate" and inside["lot_no"] == hull.serial):
        rows.status(before["uid"], REPLACED)
    rows.edge(hull.uid, plate.unit.uid, "plate")
    rows.status(plate.unit.uid, "bound")
    rows.serial_stands(plate.code, "bound", hull.uid)
    return f"plate {hull.serial or 'unknown'} replaced by {plate.code}"
