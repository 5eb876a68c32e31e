"""Rules of what is told at a desk: corrections, counts, plant data."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import LEADS

DESK = (
    Rule("REASON-MISSING", ("held", "hold_released", "corrected", "discrepancy_closed", "label_reprinted", "counted"),
         ("hold", "correction", "close", "reprint", "count"),
         "(has(hold.no_reason) && hold.no_reason) || (has(correction.no_reason) && correction.no_reason)"
         " || (has(close.no_reason) && close.no_reason) || (has(reprint.no_reason) && reprint.no_reason)"
         " || (has(count.no_reason) && count.no_reason)",
         "The reason is missing.", "It stands in the history for ever.", "Write one sentence.", fixed=True),
    Rule("HOLD-OWN", ("hold_released",), ("hold",), "hold.by_you && hold.safety",
         "You laid this hold yourself.", "A safety hold is ended by a second person.",
         "Ask another person with the right to release.", fixed=True),
    Rule("HOLD-SAME-PERSON", ("hold_released",), ("hold",), "hold.by_you && !hold.safety",
         "You laid this hold, or it came of what you recorded.", "Four eyes see more than two.",
         "Ask another person with the right to release."),
    Rule("HOLD-CONDITIONAL", ("hold_released",), ("hold",), "hold.at_gate",
         "{hold[of]} was released conditionally.", "It is free once its release is confirmed, not by ending a hold.",
         "Release it at the station Release, without the tick, when the test is in."),
    Rule("RULE-FIXED", ("defined",), ("thing",), "thing.fixed_rule",
         "{thing[key]} cannot be switched.", "This rule holds in every plant.", "Leave it as it is.", fixed=True),
    Rule("NOTHING-CHANGED", ("defined",), ("thing",), "thing.same",
         "{thing[kind]} {thing[key]} is so already.", "Nothing would change.", "Change it, then save.", fixed=True),
    Rule("MIXES-MATERIALS", ("topped_up",), ("box", "into"), "into.other_material",
         "{into[name]} holds {into[material]}.", "This is {box[material]}: the mix could not be undone.",
         "Scan the right vessel; an emptied and cleaned one takes another material."),
    Rule("MIXES-LOTS", ("topped_up",), ("into",), "into.live && !into.commingle",
         "{into[name]} is not empty.", "Two lots in one box become one mix.",
         "Take an empty one, or say that they are mixed on purpose."),
    Rule("INTO-ITSELF", ("topped_up",), ("into",), "into.itself",
         "Both scans are the same carrier.", "Nothing would move.", "Scan what it went into.", fixed=True),
    Rule("CORRECT-OTHER-MATERIAL", ("corrected",), ("right",), "right.other_material",
         "It was {right[material]}.", "{right[wanted]} belongs there.",
         "What was made of it is held: quality decides.", verdict="hold"),
    Rule("CORRECT-NOT-RELEASED", ("corrected",), ("right",), "right.waited",
         "{right[lot]} was not released then.", "Nothing shows that it may be used.",
         "What was made of it is held: quality decides.", verdict="hold"),
    Rule("COUNTED-OVER", ("counted",), ("count",), "count.too_much",
         "{count[left]} in {count[name]} is {count[over]} more than the book says.", "So much was never received in it.",
         "Count again; if it stays so, a person looks for the record that is missing.", verdict="warn"),
    Rule("NOT-EMPTY", ("proved_empty",), ("vessel",), "vessel.much_left",
         "By the book {vessel[left]} is still in {vessel[name]}.", "Either it is not empty or a record is missing.",
         "Look again; if it is empty, say so as a fact: the difference stays open for a person.", override=LEADS),
)  # fmt: skip
