"""Rules of a weighed tub that is tipped back, or is for another order."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import QUALITY

BOTH = ("tipped_back", "charge_reassigned")
TUBS = (
    Rule("TUB-EMPTY", BOTH, ("tub",), "tub.empty",
         "Nothing was weighed into {tub[name]}, or it is empty again.", "There is nothing in it for anybody.",
         "Scan the tub that is full."),
    Rule("TUB-ON-HOLD", BOTH, ("tub",), "tub.held",
         "{tub[name]} is ON HOLD ({tub[hold]}).", "What it is mixed with would be held too.",
         "Put it aside; quality decides.", override=QUALITY),
    Rule("TIP-BACK-ELSEWHERE", ("tipped_back",), ("tub", "into"), "!tub.empty && into.elsewhere",
         "{tub[name]} was not weighed out of {into[name]}.", "Powder goes back where it came from, or nowhere.",
         "Scan the container that it came from; if that is gone, scrap it or give it to another order."),
    Rule("TIP-BACK-CHANGED", ("tipped_back",), ("tub", "into"), "!tub.empty && into.changed != ''",
         "{into[name]} is not what it was: {into[changed]}.", "What is mixed there could not be told apart again.",
         "Scrap it, or give it to another order."),
    Rule("REASSIGN-PART", ("charge_reassigned",), ("tub",), "tub.part",
         "{tub[name]} is weighed in part.", "Another bag was to follow.", "Weigh the rest first, or tip it back."),
    Rule("REASSIGN-SAME", ("charge_reassigned",), ("order",), "order.same",
         "It is for {order[key]} already.", "Nothing would change.", "Scan the order that it is for now."),
    Rule("REASSIGN-ENDED", ("charge_reassigned",), ("order",), "order.ended",
         "Works order {order[key]} has ended.", "Nothing is moulded for it any more.", "Scan an order that is open."),
    Rule("REASSIGN-RECIPE", ("charge_reassigned",), ("order",), "order.no_layer || order.other_material",
         "This is {order[is]} for the {order[layer]}.",
         "The recipe of {order[key]} takes {order[material]} there.", "Scan an order that takes it, or tip it back."),
    Rule("REASSIGN-WEIGHT", ("charge_reassigned",), ("order",), "!order.no_layer && order.far",
         "The charge is {order[off]} off what {order[key]} takes.", "Its wall would be too thin or too thick.",
         "Tip it back and weigh anew, or scan another order."),
)  # fmt: skip
