"""What a mould plan says.

The words at its leader lines, and the whole of it as a sentence for those who cannot see it.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _

from trace.codes.positions import in_order, named_together
from trace.drawings.callouts import Callout
from trace.drawings.shapes import PositionState, ZoneReading

Point = Callable[[float, float], tuple[float, float]]
OPEN = PositionState("open")


def callouts_of(
    drawing: Mapping[str, Any],
    positions: Mapping[str, PositionState],
    graphics: Mapping[str, PositionState],
    zones: Mapping[str, ZoneReading],
    *,
    point: Point,
    radius: float,
) -> list[Callout]:
    """One callout for the positions that share a state and a lot, one a graphic, one a zone.

    `point` brings the maker's coordinates onto the sheet; `radius` is that of a position's mark.
    """
    return [
        *_of_positions(drawing.get("positions", {}), positions, point, radius),
        *_of_graphics(drawing.get("graphics", {}), graphics, point),
        *_of_zones(drawing.get("zones", {}), zones, point),
    ]


def _of_positions(
    places: Mapping[str, Any], positions: Mapping[str, PositionState], point: Point, radius: float
) -> list[Callout]:
    said = []
    for state, names in _alike(places, positions):
        if state.standing == "done" and not state.lot:
            continue
        points = [point(*places[name]) for name in names]
        first, last = _ends(points)
        text = f"{named_together(names)}: {_state_words(state)}"
        reach = radius + (4.5 if state.standing == "marked" else 1.0)
        said.append(Callout(text, *first, reach, *_classes(state), other=last if last != first else None))
    return said


def _of_graphics(places: Mapping[str, Any], graphics: Mapping[str, PositionState], point: Point) -> list[Callout]:
    said = []
    for name, (left, top, width, height) in places.items():
        state = graphics.get(name, OPEN)
        if state.standing == "done" and not state.lot:
            continue
        x, y = point(left + width / 2, top + height / 2)
        text = f"{name.capitalize()}: {_state_words(state)}"
        said.append(Callout(text, x, y, 3.0, *_classes(state)))
    return said


def _of_zones(places: Mapping[str, Any], zones: Mapping[str, ZoneReading], point: Point) -> list[Callout]:
    said = []
    for name, at in places.items():
        reading = zones.get(name)
        if reading is None:
            continue
        x, y = point(*at)
        words = reading.text or _("no reading")
        kind = "label-stop" if reading.below else "label"
        line = "leader-stop" if reading.below else "leader-may" if reading.missing else "leader"
        said.append(Callout(f"{name} {words}", x, y, 5.0, kind, line))
    return said


def described(
    drawing: Mapping[str, Any],
    positions: Mapping[str, PositionState],
    graphics: Mapping[str, PositionState],
    zones: Mapping[str, ZoneReading],
    title: str,
) -> str:
    """The plan as sentences: "Mould plan of T430. S1–S4: M8-N lot N-0398. Port: …"."""
    parts = [_("Mould plan of %(title)s") % {"title": title} if title else _("Mould plan")]
    for state, names in _alike(drawing.get("positions", {}), positions):
        parts.append(f"{named_together(names)}: {_state_words(state) or _('placed')}")
    for name in drawing.get("graphics", {}):
        state = graphics.get(name, OPEN)
        parts.append(f"{name.capitalize()}: {_state_words(state) or _('placed')}")
    parts += [
        f"{name} {zones[name].text or _('no reading')}" for name in drawing.get("zones", {}) if name in zones
    ]
    return ". ".join(parts) + "."


def _alike(
    places: Mapping[str, Any], positions: Mapping[str, PositionState]
) -> list[tuple[PositionState, Sequence[str]]]:
    groups: dict[PositionState, list[str]] = {}
    for name in sorted(places, key=in_order):
        groups.setdefault(positions.get(name, OPEN), []).append(name)
    return list(groups.items())


def _state_words(state: PositionState) -> str:
    words = state.lot or (_("open") if state.standing == "open" else "")
    return words if state.certain else _("may be %(lot)s") % {"lot": words}


def _classes(state: PositionState) -> tuple[str, str]:
    if state.standing == "marked":
        return "label-stop", "leader-stop" if state.certain else "leader-stop-may"
    return "label", "leader" if state.certain and state.standing == "done" else "leader-may"


def _ends(points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], tuple[float, float]]:
    """The outermost members above and below, nearest the middle of their row: leaders cross least."""
    middle = sum(x for x, _ in points) / len(points)
    return (
        min(points, key=lambda p: (round(p[1] / 12), abs(p[0] - middle))),
        max(points, key=lambda p: (round(p[1] / 12), -abs(p[0] - middle))),
    )
