"""Drawings of the plant's things: from plan data and record data to shapes for templates/drawings/."""

from trace.pages.drawings.shapes import (
    Certainty,
    ContainerDrawing,
    ContainerKind,
    ContainerPair,
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

__all__ = [
    "Certainty",
    "ContainerDrawing",
    "ContainerKind",
    "ContainerPair",
    "LayerFill",
    "LayerLot",
    "MouldPlan",
    "PlanPair",
    "PositionState",
    "Share",
    "WallPair",
    "WallSection",
    "ZoneReading",
]
