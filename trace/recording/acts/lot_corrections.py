"""Putting the lot number of a delivery right: which lot its containers are of, and what they may be used as then."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.readmodels.rows import Rows
from trace.recording.commands import Facts
from trace.recording.floor import words as say
from trace.recording.floor.changes import BEFORE, Booked
from trace.recording.floor.sources import lock_lot, lot_known, lot_status
from trace.recording.floor.units import UnitFacts, read_units
from trace.recording.told_late.at_that_time import last_release, was_waiting
from trace.recording.told_late.history import history_of

QUARANTINE, BEFORE_RECORDS = "quarantine", "made before records"


@dataclass(frozen=True)
class RightLot:
    """The lot that a delivery was of. uid: of one that the records know, else None. about: what a lot made for it says.
    """

    lot_no: str
    uid: str | None
    about: dict[str, Any]


def right_lot(edges: list[dict[str, Any]], lot_no: str) -> RightLot:
    """Which lot the containers of these edges are of: the one of that number, supplier and material if it is known."""
    child = read_units([edges[0]["child"]])[edges[0]["child"]]
    about = {k: v for k, v in child.about.items() if k not in ("lot", "opened")}
    supplier, material = str(about.get("supplier") or ""), str(about.get("material") or "")
    lock_lot(supplier, material, lot_no)
    return RightLot(lot_no, lot_known(supplier, material, lot_no), about)


def lot_trouble(edges: list[dict[str, Any]], lot_no: str, *, alone: bool) -> str:
    """Why the lot number cannot be put right in this way, as a sentence; alone: nothing else is put right with it."""
    if not lot_no:
        return ""
    if any(edge["role"] != "receive" for edge in edges) or not edges:
        return "Only what was booked at goods-in or as opening stock has a lot number: choose that record."
    return "" if alone else "Put the lot number right first, by itself; the amount or the time after that."


def right_lot_facts(edges: list[dict[str, Any]], lot_no: str) -> Facts:
    """Whether it is booked so already, and whether something was used of it while the right lot was not released."""
    right = right_lot(edges, lot_no)
    lot = read_units([right.uid])[right.uid] if right.uid else None
    return {
        "same_lot": all(edge["parent"] == right.uid for edge in edges),
        "waited": any(lot is None or was_waiting(lot, at) for edge in edges for at in _used(edge)),
        "lot": say.lot_name(right.about, lot_no),
    }


def _used(edge: dict[str, Any]) -> list[datetime]:
    """When something was taken out of the container that this edge says was booked."""
    history = history_of(edge["into"], edge["at"] - BEFORE)
    inside = {content.uid for content in history.contents}
    return [e["at"] for e in history.edges if e["parent"] in inside and e["role"] != "heel"]


def booked_rightly(
    rows: Rows, right: RightLot, edges: list[dict[str, Any]]
) -> tuple[str, dict[str, Booked]]:
    """The uid of the right lot, made where it is not known, and what each container holds, by its content's uid."""
    units = read_units([edge["child"] for edge in edges])
    own = {uid: BEFORE_RECORDS if _before_records(unit) else QUARANTINE for uid, unit in units.items()}
    lot = right.uid or rows.unit("lot", lot_no=right.lot_no, about=right.about, status=next(iter(own.values())))
    rows.touch(lot, "received")
    return lot, {
        edge["child"]: Booked(
            {**units[edge["child"]].about, "lot": lot}, right.lot_no, _status(right, own[edge["child"]], edge["at"])
        )
        for edge in edges
    }


def _before_records(unit: UnitFacts) -> bool:
    return unit.about.get("origin") == "before records"


def _status(right: RightLot, own: str, booked: datetime) -> str:
    """A delivery waits for its release like any other: what frees it is a release of its own lot after it came. What
    stood there before the records waits only with its lot."""
    if right.uid is None:
        return own
    if own == BEFORE_RECORDS:
        return QUARANTINE if lot_status(right.uid) == QUARANTINE else own
    return last_release(right.uid, booked) or own
