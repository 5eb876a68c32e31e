"""The tables of what happened: truth first, then the read models that are rebuilt from it."""

from trace.models.checks import RecordCheck
from trace.models.complaints import CaseFile, Complaint
from trace.models.events import Blob, Event, EventResource, EventUnit, Note
from trace.models.heard import ScreenHeard
from trace.models.jobs import Job
from trace.models.labels import Hold, HoldRelease, Label, Serial
from trace.models.papers import KeptPaper
from trace.models.plantdata import Resource, Revision
from trace.models.scans import Scan, ScanConflict
from trace.models.seals import Head, Installation, Leaf, SealQueue
from trace.models.status import (
    CarrierLog,
    CarrierState,
    Discrepancy,
    Gap,
    InstrumentState,
    LabelState,
    MouldState,
    PlaceNow,
    Reading,
    SerialState,
    UnitHold,
    UnitState,
)
from trace.models.units import Carrier, Cook, Cycle, Difference, Edge, EdgeVoid, Unit

__all__ = [
    "Blob", "Carrier", "CarrierLog", "CarrierState", "CaseFile", "Complaint", "Cook", "Cycle", "Difference",
    "Discrepancy", "Edge", "EdgeVoid", "Event", "EventResource", "EventUnit", "Gap", "Head", "Hold",
    "HoldRelease", "Installation", "InstrumentState", "Job", "KeptPaper", "Label", "LabelState", "Leaf",
    "MouldState", "Note", "PlaceNow", "Reading", "RecordCheck", "Resource", "Revision", "Scan", "ScanConflict",
    "ScreenHeard", "SealQueue", "Serial", "SerialState", "Unit", "UnitHold", "UnitState",
]  # fmt: skip
