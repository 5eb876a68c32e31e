"""The calibrations of instruments, as known on a day: what each found and left, and whether it was followed up."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from trace.codes.calibrated import Point
from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows

CALIBRATED, WITHDRAWN, FOLLOWED_UP = "calibrated", "calibration withdrawn", "calibration followed up"
# Roles that an instrument has in its calibration: a check of it, once as it was found and once as it was left.
FOUND_GOOD, FOUND_FAILED, LEFT_GOOD, LEFT_FAILED = "found good", "found failed", "left good", "left failed"
# A calibration v of the instrument x.resource that a later record took back counts as nothing.
TAKEN_BACK = """EXISTS (SELECT FROM event w JOIN event_resource y ON y.event = w.id AND y.resource = x.resource
      AND y.role = 'calibration withdrawn' WHERE w.recorded <= %(known)s::timestamptz
      AND w.body::jsonb #>> '{says,calibration}' = v.uid::text)"""
# It is left as it is a moment after it was found so.
LEFT_AFTER = "interval '1 microsecond'"
EVERY = """
SELECT r.key, x.role, v.uid::text, v.happened, v.recorded, v.person, (v.body::jsonb->'says')::text,
       COALESCE(v.body::jsonb #> '{rows,readings}', '[]')::text,
       ARRAY(SELECT z.role FROM event_resource z WHERE z.event = v.id AND z.resource = x.resource)
FROM event_resource x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
  JOIN resource r ON r.id = x.resource AND r.kind = 'instrument'
WHERE x.role IN ('calibrated', 'calibration withdrawn', 'calibration followed up')
  AND (%(key)s::text = '' OR r.key = %(key)s::text) ORDER BY v.id
"""
HELD = """
SELECT v.uid::text, (v.body::jsonb #> '{says,cause}')::text FROM event v
WHERE v.kind = 'scope_held' AND v.recorded <= %(known)s::timestamptz AND v.body LIKE '%%since-check=%%' ORDER BY v.id
"""


@dataclass(frozen=True, slots=True)
class Calibration:
    """One that counts. found, left: whether it was within its limits, None where nothing said a limit. followed: the
    uid of the record by which somebody decided on one that was found outside, "" where nobody has."""

    uid: str
    instrument: str
    happened: datetime
    recorded: datetime
    person: str
    says: dict[str, Any]
    points: tuple[Point, ...]
    found: bool | None
    left: bool | None
    followed: str = ""

    @property
    def cause(self) -> tuple[str, ...]:
        """What was measured with it since its last good check before, in words of causes.py."""
        return cause_of(self.instrument, self.happened)

    @property
    def open(self) -> bool:
        return self.found is False and not self.followed


def cause_of(instrument: str, happened: datetime) -> tuple[str, ...]:
    return (f"since-check={instrument}", f"before={happened.isoformat().replace('+00:00', 'Z')}")


def calibrations(instrument: str = "", as_known_on: datetime | None = None) -> list[Calibration]:
    """Those of one instrument, or of all, that were not withdrawn by then, in the order in which they happened."""
    known = known_by(as_known_on)
    rows = fetch_rows(EVERY, {"known": known, "key": instrument})
    says = {row[2]: json.loads(row[6]) for row in rows}
    gone = {says[row[2]]["calibration"] for row in rows if row[1] == WITHDRAWN}
    followed = {says[row[2]]["calibration"]: row[2] for row in rows if row[1] == FOLLOWED_UP}
    held = [(uid, json.loads(cause)) for uid, cause in fetch_rows(HELD, {"known": known})] if rows else []
    found = [
        Calibration(
            uid, key, happened, recorded, person or "", says[uid], _points(json.loads(readings)),
            _good(roles, FOUND_GOOD, FOUND_FAILED), _good(roles, LEFT_GOOD, LEFT_FAILED),
            followed.get(uid) or _held(held, cause_of(key, happened)),
        )
        for key, role, uid, happened, recorded, person, _says, readings, roles in rows
        if role == CALIBRATED and uid not in gone
    ]  # fmt: skip
    return sorted(found, key=lambda one: one.happened)


def _good(roles: Iterable[str], good: str, failed: str) -> bool | None:
    return True if good in roles else False if failed in roles else None


def _held(held: list[tuple[str, list[str]]], cause: tuple[str, ...]) -> str:
    """The newest hold on a scope that asks for just this."""
    return next((uid for uid, words in reversed(held) if set(cause) <= set(words)), "")


def _points(readings: list[dict[str, Any]]) -> tuple[Point, ...]:
    """Out of the readings of its record: of each reference four at most, in their order."""
    found: list[dict[str, Decimal]] = []
    for row in readings:
        if row["quantity"] == "as found":
            found.append({"reference": Decimal(row["zone"])})
        found[-1][row["quantity"]] = Decimal(row["value"])
    return tuple(
        Point(one["reference"], one["as found"], one["as left"], one.get("limit found"), one.get("limit left"))
        for one in found
    )
