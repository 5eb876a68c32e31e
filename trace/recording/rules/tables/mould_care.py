"""Rules of the work on a mould between loads."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import LEADS, QUALITY

MOULD_CARE = (
    Rule("CARE-LOADED", ("mould_cared",), ("mould", "care"), "care.loaded",
         "Mould {mould[key]} is {mould[stage]}.", "Nobody works on a mould with a load in it.",
         "Scan the mould that was worked on, or empty this one first.", override=LEADS),
    Rule("CARE-AGENT-MISSING", ("mould_cared",), ("mould", "care"), "care.no_agent",
         "Which release agent is on {mould[key]} was not scanned.",
         "Every hull made on this coat may then be of any lot of it.",
         "Next time scan the container first.", verdict="warn"),
    Rule("CARE-NO-COAT", ("mould_cared",), ("care",), "care.no_coat",
         "A release agent was scanned, and no coat was put on.", "An agent goes with its coat only.",
         "Press release coat, or take the agent off."),
    Rule("FIRST-OFF-NOT-DUE", ("first_off_passed",), ("mould", "first_off"), "first_off.not_due",
         "No first-off of mould {mould[key]} is due.", "It was not refurbished since the last one passed.",
         "Nothing is to be done; scan another mould.", fixed=True),
    Rule("FIRST-OFF-OTHER", ("first_off_passed",), ("mould", "first_off"),
         "first_off.other || first_off.before || first_off.aborted",
         "{first_off[name]} is no first-off of mould {mould[key]}.",
         "It was made in {first_off[made_in]}, before the refurbishment, or was given up.",
         "Scan a moulding that was made in this mould since.", fixed=True),
    Rule("FIRST-OFF-HELD", ("first_off_passed",), ("first_off",), "first_off.held && !first_off.other",
         "{first_off[name]} is on hold.", "What is held has not passed.",
         "Let quality decide on the hold first, or mould another one.", override=QUALITY),
)  # fmt: skip
