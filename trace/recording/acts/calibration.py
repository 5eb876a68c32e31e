"""Calibration of scales, gauges, loggers and thermometers: how each was found, how it was left, and when it is due.

As it was found is a check of what it measured before; as it was left, of what it measures from then on.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.chain import canonical
from trace.codes import AmountError
from trace.codes.calibrated import SHARE, UNITS, Point, good, number, points_of, worst
from trace.genealogy.calibrations import (
    CALIBRATED,
    FOLLOWED_UP,
    FOUND_FAILED,
    FOUND_GOOD,
    LEFT_FAILED,
    LEFT_GOOD,
    WITHDRAWN,
    Calibration,
    calibrations,
)
from trace.readmodels.rows import Rows, moment
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.standing import Floor
from trace.recording.floor.weighed import checks_about

INSTRUMENTS = tuple(UNITS)
LONGEST = 60


@dataclass(frozen=True, kw_only=True)
class Calibrate(Command):
    """points: of each reference its value, what was shown as found, and as left ("" where it was not adjusted), in the
    instrument's unit. uncertainty: of the error, expanded by k; reference: the masses, block or bath that were used;
    due: the last day of this calibration, "" where nobody said. done_by: who calibrated it, a note.
    """

    KIND = "calibrated"
    NAME = noop("calibrate")
    # It says when the instrument is due again, which is plant data, and nothing is measured with it meanwhile.
    ALONE = True

    instrument: str = scanned(*INSTRUMENTS)
    points: tuple[tuple[str, ...], ...] = ()
    uncertainty: str = ""
    k: str = ""
    reference: str = ""
    certificate: str = ""
    due: str = ""
    done_by: str = words()

    @staticmethod
    def told(e: Told) -> str:
        roles = {row["role"] for row in e.part("resources")}
        found = (
            _("found outside its limit") if FOUND_FAILED in roles
            else _("found within its limit") if FOUND_GOOD in roles else _("not judged: no limit is recorded")
        )  # fmt: skip
        left = _(", left outside its limit") if LEFT_FAILED in roles else ""
        said = {"key": e.says["instrument"], "certificate": e.says["certificate"] or "?", "found": found + left}
        return _("%(key)s calibrated, certificate %(certificate)s: %(found)s") % said


def _read(c: Calibrate, floor: Floor) -> tuple[tuple[Point, ...], str]:
    """(the points, why what was typed is no calibration, in one sentence)"""
    try:
        points = points_of(c.points, floor[c.instrument].body)
        for text in (c.uncertainty, c.k):
            if text and number(text) <= 0:
                return (), "An uncertainty and its k are above nought: leave them empty where the certificate has none."
    except AmountError as error:
        return (), str(error)
    if not c.certificate.strip() or len(c.certificate) > LONGEST:
        return (), "The number of the certificate is missing: without it nobody finds what this was read from."
    if bool(c.uncertainty) != bool(c.k):
        return (), "An uncertainty says nothing without its k, nor k without it: type both, or neither."
    return points, _due_trouble(c.due, floor.day)


def _due_trouble(due: str, done: date) -> str:
    if not due:
        return ""
    try:
        return "" if date.fromisoformat(due) > done else f"It would be due on {due}, before it was done."
    except ValueError:
        return f"“{due[:20]}” is no day: write it as 2027-03-09."


def calibrate_facts(c: Calibrate, floor: Floor) -> Facts:
    found = floor[c.instrument]
    points, trouble = _read(c, floor)
    if trouble:
        return {"typed": {"trouble": trouble}}
    point = worst(points)
    limits = [p.found_limit for p in points if p.found_limit is not None]
    unit = UNITS[str(found.body.get("kind"))]
    return {
        "typed": {"trouble": ""},
        "calibration": {
            "name": f"{found.body.get('kind', 'instrument')} {found.key}",
            "found_fails": good(points, left=False) is False,
            "left_fails": good(points, left=True) is False,
            "no_limit": good(points, left=False) is None,
            "off": f"{point.found_off:+f} {_unit(unit)}",
            "at": f"{point.reference:f} {_unit(unit)}",
            "limit": f"{point.found_limit or 0:f} {_unit(unit)}",
            "unsure": bool(c.uncertainty and limits) and number(c.uncertainty) > SHARE * min(limits or [Decimal(0)]),
            "uncertainty": f"{c.uncertainty} {_unit(unit)}",
            "again": any(one.says["certificate"] == c.certificate.strip() for one in calibrations(found.key)),
            "certificate": c.certificate.strip(),
        },
    }


def _unit(uom: str) -> str:
    return {"C": "°C"}.get(uom, uom)


@handles(Calibrate, calibrate_facts)
def calibrate(c: Calibrate, floor: Floor, rows: Rows) -> str:
    found = floor[c.instrument]
    points, unit = _read(c, floor)[0], UNITS[str(found.body.get("kind"))]
    for p in points:
        zone = f"{p.reference:f}"
        limits = {"limit found": p.found_limit, "limit left": p.left_limit}
        said = {"as found": p.found, "as left": p.left} | {what: v for what, v in limits.items() if v is not None}
        for quantity, value in said.items():
            rows.reading(quantity, f"{value:f}", unit, zone=zone, instrument=found.key)
    as_found, as_left = good(points, left=False), good(points, left=True)
    rows.resource("instrument", found.key, CALIBRATED)
    if as_found is not None:
        rows.resource("instrument", found.key, FOUND_GOOD if as_found else FOUND_FAILED)
        rows.instrument(found.key, floor.happened, as_found)
    if as_left is not None:
        rows.resource("instrument", found.key, LEFT_GOOD if as_left else LEFT_FAILED)
        rows.instrument(found.key, floor.happened + timedelta(microseconds=1), as_left)
    newest = all(one.happened <= floor.happened for one in calibrations(found.key))
    thing = floor.plant.get("instrument", found.key)
    if c.due and newest and thing is not None and c.due != thing.body.get("calibration_due"):
        body = {**thing.body, "calibration_due": c.due}
        rows.thing("instrument", found.key, thing.version + 1, canonical(body), floor.happened)
    words_ = {True: "within its limit", False: "outside its limit", None: "not judged"}
    return f"{found.key} calibrated: found {words_[as_found]}, left {words_[as_left]}"


@dataclass(frozen=True, kw_only=True)
class WithdrawCalibration(Command):
    """A calibration was entered wrongly, by the uid of its record: it counts no more, the right one is entered anew.
    The day on which the instrument is due is plant data and is put right with the new one, or there."""

    KIND = "calibration_withdrawn"
    NAME = noop("take a calibration back")
    DECISION = True
    ALONE = True

    instrument: str = scanned(*INSTRUMENTS)
    calibration: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("A calibration of %(key)s taken back: %(why)s") % {
            "key": e.says["instrument"], "why": e.why or _("no reason given"),
        }  # fmt: skip


def _meant(instrument: str, uid: str) -> Calibration | None:
    return next((one for one in calibrations(instrument) if one.uid == uid), None)


def withdraw_facts(c: WithdrawCalibration, floor: Floor) -> Facts:
    known = _meant(floor[c.instrument].key, c.calibration)
    trouble = "" if known else f"{floor[c.instrument].key} has no such calibration that counts."
    return {"typed": {"trouble": trouble}, "correction": {"no_reason": not c.reason.strip()}}


@handles(WithdrawCalibration, withdraw_facts)
def withdraw(c: WithdrawCalibration, floor: Floor, rows: Rows) -> str:
    key = floor[c.instrument].key
    rows.resource("instrument", key, WITHDRAWN)
    # From now on the last check that is left says how the instrument stands; where there is none, nobody knows.
    before = checks_about(key, floor.now, without=c.calibration)[0]
    rows.instrument_again(key, moment(before["checked_at"]) if before else None, bool(before and before["passed"]))
    return f"calibration of {key} taken back"


@dataclass(frozen=True, kw_only=True)
class FollowUpCalibration(Command):
    """An instrument was found outside its limit, and nothing more is held for it: the reason says why not."""

    KIND = "calibration_followed_up"
    NAME = noop("follow up a calibration")
    DECISION = True

    instrument: str = scanned(*INSTRUMENTS)
    calibration: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("%(key)s was found outside its limit; nothing more is held for it: %(why)s") % {
            "key": e.says["instrument"], "why": e.why or _("no reason given"),
        }  # fmt: skip


def follow_up_facts(c: FollowUpCalibration, floor: Floor) -> Facts:
    known = _meant(floor[c.instrument].key, c.calibration)
    trouble = "" if known and known.open else "No such calibration waits for somebody to decide."
    return {"typed": {"trouble": trouble}, "correction": {"no_reason": not c.reason.strip()}}


@handles(FollowUpCalibration, follow_up_facts)
def follow_up(c: FollowUpCalibration, floor: Floor, rows: Rows) -> str:
    rows.resource("instrument", floor[c.instrument].key, FOLLOWED_UP)
    return f"calibration of {floor[c.instrument].key} followed up: nothing more is held"
