"""Holds: laid on a unit and on all that comes of it, now and later; released by named roles only."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.sources import open_hold
from trace.recording.floor.standing import Floor, Found
from trace.recording.floor.units import AT_GATE

# Holds that one person never ends alone, whatever the plant says.
SAFETY = ("safety", "stop-use")
HOLDABLE = (
    "container", "vessel", "roll", "tub", "drop_box", "lot", "hull", "moulding", "part", "pack", "plate", "mould",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Hold(Command):
    """rule: why in one word (quality, safety, stop-use, …); lot: hold the whole lot of a container, not only it.

    It takes everything certain and may, from 0 kg. Told late, it is on what was in the container then.
    """

    KIND = "held"
    NAME = noop("hold")
    OFF_PAPERS = True
    ALONE = True
    AS_IT_WAS = ("code",)

    code: str = scanned(*HOLDABLE)
    rule: str = "quality"
    whole_lot: bool = False
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Hold laid on %(code)s: %(why)s") % {
            "code": printed(e.says["code"]), "why": e.why or _("no reason given"),
        }  # fmt: skip


def held_unit(found: Found, whole_lot: bool) -> str | None:
    if found.load:
        return found.load.uid
    if found.unit is None:
        return None
    return str(found.unit.about.get("lot", found.unit.uid)) if whole_lot else found.unit.uid


def hold_facts(c: Hold, floor: Floor) -> Facts:
    return {
        "hold": {
            "no_reason": not c.reason.strip(),
            "nothing": held_unit(floor[c.code], c.whole_lot) is None,
            "code": floor[c.code].name,
        }
    }


@handles(Hold, hold_facts)
def hold(c: Hold, floor: Floor, rows: Rows) -> str:
    found = floor[c.code]
    unit = held_unit(found, c.whole_lot)
    assert unit is not None  # noqa: S101 - NOTHING-TO-HOLD is basic
    rows.hold(unit, c.rule)
    for other in found.others:
        # Nobody can say which of them was in it at that time.
        rows.hold(other, c.rule)
    return f"{found.name} on hold"


@dataclass(frozen=True, kw_only=True)
class ReleaseHold(Command):
    """hold: its uid. code: release only this unit and what comes of it; "": the hold is over altogether."""

    KIND = "hold_released"
    NAME = noop("end a hold")
    DECISION = True
    ALONE = True

    hold: str
    code: str = scanned(*HOLDABLE, optional=True)
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        one = _(" for %(code)s alone") % {"code": printed(e.says["code"])} if e.says.get("code") else ""
        return _("Hold released%(one)s: %(why)s") % {
            "one": one, "why": e.why or _("no reason given"),
        }  # fmt: skip


def release_hold_facts(c: ReleaseHold, floor: Floor) -> Facts:
    known = open_hold(c.hold)
    found = floor[c.code] if c.code else None
    unit = (found.load or found.unit) if found else None
    return {
        "hold": {
            "chosen": bool(c.hold.strip()),
            "known": known is not None,
            "no_reason": not c.reason.strip(),
            "nothing": found is not None and unit is None,
            "code": found.name if found else "",
            # One that is still being spread has no uid there yet: it may be this one.
            "elsewhere": bool(known and unit and not {c.hold, ""} & {h["uid"] for h in unit.holds + unit.at_gate}),
            "of": known["of"] if known else "",
            "by_you": bool(known and floor.by.person in known["persons"]),
            "safety": bool(known and known["rule"] in SAFETY),
            "at_gate": bool(known and known["rule"] == AT_GATE and not c.code),
        }
    }


@handles(ReleaseHold, release_hold_facts)
def release_hold(c: ReleaseHold, floor: Floor, rows: Rows) -> str:
    known = open_hold(c.hold)
    assert known is not None  # noqa: S101
    found = floor[c.code] if c.code else None
    rows.release_hold(c.hold, held_unit(found, False) if found else None)
    rows.touch(str(known["unit"]), "hold released")
    return f"{found.name} is free of the hold on {known['of']}" if found else f"the hold on {known['of']} is over"
