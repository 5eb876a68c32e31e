"""Where on a hull: the places of a model's drawing to choose from, and the drawing to point at."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from trace.codes.positions import in_order
from trace.drawings import MouldPlan, PlanPair, PositionState, ZoneReading, mould_plan, mould_plans

# An insert or a graphic nothing is said of: drawn plainly, without words.
PLAIN = PositionState("done")


@dataclass(frozen=True, slots=True)
class Spot:
    """One place to choose: its name on the drawing, and what is there."""

    name: str
    words: str


def spots(body: Mapping[str, Any]) -> tuple[Spot, ...]:
    """The places of a product's drawing: inserts, then graphics, then zones of the wall."""
    drawing, inserts = body.get("drawing") or {}, body.get("inserts") or {}
    found = [
        Spot(name, _("insert %(part)s") % {"part": inserts[name]} if name in inserts else _("insert"))
        for name in sorted(drawing.get("positions", {}), key=in_order)
    ]
    found += [Spot(name, _("graphic")) for name in sorted(drawing.get("graphics", {}), key=in_order)]
    return (*found, *(Spot(name, _("wall")) for name in sorted(drawing.get("zones", {}), key=in_order)))


def plan_to_point_at(body: Mapping[str, Any], title: str) -> PlanPair | None:
    """The drawing with every place on it and no words, across and upright; None where the model has none."""
    drawing = body.get("drawing")
    if not drawing:
        return None
    zones = {name: ZoneReading() for name in drawing.get("zones", {})}
    states = {name: PositionState("open") for name in drawing.get("positions", {})}
    graphics = {name: PositionState("open") for name in drawing.get("graphics", {})}

    def drawn(width: float, upright: bool) -> MouldPlan:
        return mould_plan(
            drawing, states, graphics, zones, width=width, upright=upright, callouts=False, title=title
        )

    return PlanPair(drawn(560.0, False), drawn(384.0, True))


def plan_of(body: Mapping[str, Any], said: Mapping[str, str], title: str) -> PlanPair | None:
    """The drawing with words at some of its places (`said`: place -> words), those places marked."""
    drawing = body.get("drawing")
    if not drawing:
        return None

    def states(part: str) -> dict[str, PositionState]:
        return {
            name: PositionState("marked", said[name]) if name in said else PLAIN for name in drawing.get(part, {})
        }

    zones = {name: ZoneReading(said[name]) for name in drawing.get("zones", {}) if name in said}
    return mould_plans(drawing, states("positions"), states("graphics"), zones, title=title)
