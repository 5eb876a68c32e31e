"""Rules of the cold impact test."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import QUALITY

DROPS = ("impact_dropped",)

IMPACT = (
    Rule("IMPACT-WARM", DROPS, ("impact",), "impact.warm",
         "The specimen is at {impact[cold]} °C; the recipe asks for {impact[plan_c]} °C within {impact[within]}.",
         "Warmer is tougher: the result would say nothing.", "Condition it again, then drop.", override=QUALITY),
    Rule("IMPACT-DART", DROPS, ("impact",), "impact.other_dart",
         "This is the {impact[dart]} dart; the recipe asks for {impact[plan_dart]}.",
         "Heights of different darts are not compared.", "Take the {impact[plan_dart]} dart.", override=QUALITY),
    Rule("IMPACT-STEP", DROPS, ("impact",), "impact.off_step",
         "{impact[height]} m is off the staircase: {impact[wanted]} m comes next.",
         "One step down after a failure, one up after none.", "Go on from {impact[wanted]} m.", verdict="warn"),
    Rule("IMPACT-DROP-GONE", ("impact_drop_taken_back",), ("impact",), "impact.gone",
         "There is no such drop in an open test.", "It was taken back before, or its test has ended.",
         "Choose a drop of the list, or test again.", basic=True, fixed=True),
    Rule("IMPACT-END-GONE", ("impact_reopened",), ("impact",), "impact.gone",
         "This is not the end of the last test on this specimen.", "Another came after it, or it was taken back before.",
         "Look at its tests, newest first.", basic=True, fixed=True),
    Rule("IMPACT-NO-PLAN", ("impact_ended",), ("impact",), "impact.no_plan",
         "The recipe of {impact[product]} does not say what passes an impact test.",
         "A height alone decides nothing.", "Have step and least height entered under Plant data first."),
    Rule("IMPACT-FEW", ("impact_ended",), ("impact",), "impact.few",
         "Too few drops: {impact[counted]} of the rarer outcome, at least {impact[fewest]} are counted.",
         "The mean would be a guess.", "Go on with the staircase.", override=QUALITY),
    Rule("IMPACT-FAILS", ("impact_ended",), ("impact",), "impact.fails",
         "The test failed: mean failure height {impact[mean]} m, least {impact[least]} m; brittle: {impact[brittle]}.",
         "What was made on this arm of this recipe and these lots since the last pass is held.",
         "Tell quality; another specimen of each doubted day says where it began.", verdict="warn", fixed=True),
)  # fmt: skip
