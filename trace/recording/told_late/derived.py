"""What comes out when the history of some carriers is gone through; derive.py and its parts fill it."""

from dataclasses import dataclass, field
from typing import Any

from trace.recording.floor.changes import Changes, Took
from trace.recording.told_late.contents import Goes, Run, Tolerance, Way
from trace.recording.told_late.history import OUT, Content

FILL, NOT_FOUND = "fill difference", "not found when emptied"


@dataclass
class Derived:
    """What comes out: the carriers with their contents, every way from one unit into another with the records that say
    so by now, and what a person has to look at, as (kind, unit)."""

    carriers: dict[str, Goes]
    changes: Changes
    tolerance: Tolerance
    # The rows that the late act itself makes, by part.
    made: dict[str, list[dict[str, Any]]]
    edges: list[dict[str, Any]] = field(default_factory=list)
    mays: list[dict[str, Any]] = field(default_factory=list)
    ways: list[Way] = field(default_factory=list)
    heels: list[Way] = field(default_factory=list)
    open_ways: list[tuple[Took, Run | str, Run]] = field(default_factory=list)
    looks: list[tuple[str, Run | str]] = field(default_factory=list)
    # What the rules would have held, had it been told in order: (code, what went in).
    held: list[tuple[str, Way]] = field(default_factory=list)
    home: dict[str, Goes] = field(default_factory=dict)
    later: dict[str, Content] = field(default_factory=dict)
    runs: dict[str, Run] = field(default_factory=dict)


def weighed_as(content: Content) -> str:
    """What a charge was first recorded as: all of it, or a part that another bag follows."""
    return next((s for _, s, _ in content.statuses if s in ("part weighed", "weighed")), "weighed")


def way_name(edge: dict[str, Any]) -> tuple[Any, ...]:
    """What names one draw however often it is said again; of which layer a tub was is what may change, and whether it
    was all that was left."""
    if edge["role"] in ("charge", *OUT):
        return edge["of"], edge["role"]
    return edge["of"], edge["role"], edge["layer"], edge["position"]
