"""Rules of inspection, holds and scrap."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import QUALITY

FINISHING = (
    Rule("INSPECT-HELD", ("inspected",), ("hull", "inspection"), "inspection.pass && hull.held",
         "This hull is on hold: {hull[hold]}.", "A held hull cannot pass.", "End the hold first, at the station End a hold, or fail it."),
    Rule("INSPECT-UNCHECKED", ("inspected",), ("inspection",), "inspection.pass && inspection.unchecked",
         "Not looked at: {inspection[missing]}.", "The checklist asks for it.", "Look at it, then pass."),
    Rule("INSPECT-RECORD-MISSING", ("inspected",), ("hull", "inspection"), "inspection.pass && hull.has_gaps",
         "Missing from the record: {hull[gaps]}.", "A missing record is not a pass.",
         "If it is on paper, enter it at its station with From paper; else quality may pass it with a reason.", override=QUALITY),
    Rule("INSPECT-QUESTION", ("inspected",), ("inspection",), "inspection.pass && inspection.questions",
         "Still to be looked at: {inspection[questions_which]}.", "An open question is not a pass.",
         "Say at the station To look at what came of it, then pass.", override=QUALITY),
    Rule("ZONE-UNREAD", ("inspected",), ("inspection",), "inspection.pass && inspection.unread",
         "Thickness not read: {inspection[unread_which]}.", "A missing record is not a pass.",
         "Read these zones, then pass.", override=QUALITY),
    Rule("INSPECT-GONE", ("inspected",), ("hull",), "hull.gone",
         "This hull is {hull[status]}.", "It is not at inspection by the record.",
         "Scan the hull in front of you, or end its cook first."),
    Rule("ZONE-THIN", ("inspected",), ("inspection",), "inspection.thin",
         "Thin: {inspection[thin_which]}.", "It is below the zone's least thickness.", "The hull is held.",
         verdict="hold"),
    Rule("INSPECT-FAILED", ("inspected",), ("inspection",), "inspection.fail",
         "The hull failed its inspection.", "It waits for a decision.", "The hull is held.", verdict="hold"),
    Rule("SCRAP-PLATE-STAYS", ("scrapped",), ("scrap",), "scrap.plate_stays",
         "The plate was not destroyed.", "A plate left over could be put on another hull.",
         "Destroy the plate, tick it, then scrap the hull."),
    Rule("SCRAP-BOUND", ("scrapped",), ("scrap",), "scrap.bound",
         "This moulding has its plate, or was cut.", "What it became is in the plant under another number.",
         "Scan the plate of the hull, or the part."),
    Rule("SCRAP-GONE", ("scrapped",), ("scrap",), "scrap.gone",
         "This is {scrap[status]}.", "It cannot be scrapped from there.", "Bring it back into the plant first."),
)  # fmt: skip
