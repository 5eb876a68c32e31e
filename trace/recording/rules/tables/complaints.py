"""Rules of complaints and cases. A complaint itself is told, never refused: what is looked at here is what follows."""

from trace.recording.rules.engine import Rule

ADDS = (
    "case_grouped", "case_suspected", "case_scoped", "case_held", "case_tested", "case_decided", "case_told",
    "case_closed",
)  # fmt: skip
CLOSES = ("complaint_closed", "case_closed")

COMPLAINTS = (
    Rule("COMPLAINT-UNKNOWN", ("complaint_tied", "complaint_closed", "case_opened", "case_grouped"), ("complaint",),
         "complaint.unknown", "There is no complaint {complaint[number]}.", "Nothing was ever recorded under it.",
         "Open the list of complaints and choose it there.", basic=True, fixed=True),
    Rule("COMPLAINT-TIED-SO", ("complaint_tied",), ("complaint",), "complaint.same",
         "Complaint {complaint[number]} stands so already: {complaint[serial]}.", "Nothing would change.",
         "Choose the hull it really is of.", fixed=True),
    Rule("COMPLAINT-CLOSED", ("complaint_closed",), ("complaint",), "complaint.closed",
         "Complaint {complaint[number]} is closed.", "It is over already.",
         "Put it into an open case, and it is looked at again.", fixed=True),
    Rule("COMPLAINT-IN-CASE", ("complaint_closed",), ("complaint",), "complaint.in_case && !complaint.closed",
         "Complaint {complaint[number]} is in case {complaint[case]}.", "It is closed with its case.",
         "Close the case, or take the complaint out of it first.", fixed=True),
    Rule("CASE-UNKNOWN", (*ADDS, "case_reopened"), ("case",), "case.unknown",
         "There is no case {case[number]}.", "None was ever opened under it.",
         "Open the list of cases and choose it there.", basic=True, fixed=True),
    Rule("CASE-CLOSED", ADDS, ("case",), "case.closed",
         "Case {case[number]} is closed.", "Nothing is added to a closed case.",
         "Open it again with the reason, then go on.", fixed=True),
    Rule("CASE-OPEN", ("case_reopened",), ("case",), "case.open",
         "Case {case[number]} is open.", "Nothing would change.", "Go on with it.", fixed=True),
    Rule("CLOSING-NO-CAUSE", CLOSES, ("closing",), "closing.no_cause",
         "The cause is missing.", "What was learned is lost without it.",
         "Choose the cause, or “none found”.", fixed=True),
    Rule("CLOSING-NO-HULL", CLOSES, ("closing",), "closing.no_hull_said",
         "It is not said whether the hull was found.", "A complaint without its hull counts in no scope.",
         "Say found or not found.", fixed=True),
    Rule("CLOSING-NOT-TIED", CLOSES, ("closing",), "closing.not_tied",
         "No hull is tied to complaint {closing[lost]}.", "So it was not found.",
         "Tie the complaint to its hull first, or say that it was not found.", fixed=True),
    Rule("CLOSING-TIED", CLOSES, ("closing",), "closing.tied",
         "Its hull is tied to it.", "So it was found.", "Say that it was found, or take a wrong tie back first.",
         fixed=True),
    Rule("NOTHING-TO-ERASE", ("erased",), ("erasing",), "erasing.gone",
         "These words are not there.", "They were erased before, or never kept.",
         "Look again at which words are meant.", basic=True, fixed=True),
)  # fmt: skip
