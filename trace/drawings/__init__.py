"""Drawings of the plant's things: from plan data and record data to shapes for templates/drawings/."""

from trace.drawings.container import container_drawing, container_drawings
from trace.drawings.flow import flow_drawings
from trace.drawings.mould_plan import mould_plan, mould_plans, station_plan
from trace.drawings.shapes import (
    Band,
    Certainty,
    ContainerDrawing,
    ContainerKind,
    ContainerPair,
    FlowDrawing,
    FlowPair,
    LayerFill,
    LayerLot,
    MouldPlan,
    PlanPair,
    PositionState,
    Share,
    WallPair,
    WallSection,
    ZoneReading,
)
from trace.drawings.wall_section import wall_section, wall_sections

__all__ = [
    "Band",
    "Certainty",
    "ContainerDrawing",
    "ContainerKind",
    "ContainerPair",
    "FlowDrawing",
    "FlowPair",
    "LayerFill",
    "LayerLot",
    "MouldPlan",
    "PlanPair",
    "PositionState",
    "Share",
    "WallPair",
    "WallSection",
    "ZoneReading",
    "container_drawing",
    "container_drawings",
    "flow_drawings",
    "mould_plan",
    "mould_plans",
    "station_plan",
    "wall_section",
    "wall_sections",
]
