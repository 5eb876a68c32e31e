"""Rules of repairing hulls."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import QUALITY

MENDS = ("repaired",)

REPAIRS = (
    Rule("REPAIR-UNSAID", MENDS, ("repair",), "repair.no_work",
         "It is not said what was done.", "Only work that is listed can be counted.", "Choose it from the list.", fixed=True),
    Rule("REPAIR-NOWHERE", MENDS, ("repair",), "repair.nowhere",
         "It is not said where on {repair[hull]}.", "What was touched is inspected again, and has to be found for years.",
         "Choose a place of its drawing: {repair[places]}."),
    Rule("REPAIR-GONE", MENDS, ("repair",), "repair.gone",
         "By the record {repair[hull]} is {repair[status]}.", "It does not stand in the workshop.",
         "Take it back at the station Returns first, or scan the hull in front of you."),
    Rule("REPAIR-OTHER-MATERIAL", MENDS, ("repair", "box"), "repair.other_material",
         "{box[material]} is no rod and no part.", "Powder and graphics go in with the oven.",
         "Scan the box of the rods or parts that you take."),
    Rule("REPAIR-TOO-OFTEN", MENDS, ("repair",), "repair.too_often",
         "{repair[hull]} was repaired {repair[before]} times before.", "The plant has set how often a hull may be.",
         "Scrap it, or quality lets one more pass with a reason.", override=QUALITY),
    Rule("REPAIR-NO-SOURCE", MENDS, ("repair",), "repair.no_source",
         "It is not said what was welded or fitted in.", "A lot that nobody names is missing from every list of it.",
         "If the box is still there, record the repair with it; it stands as a gap until then.", verdict="warn"),
)  # fmt: skip
