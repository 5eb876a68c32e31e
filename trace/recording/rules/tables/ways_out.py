"""Rules of what leaves the containers and is made into nothing: scrap, samples, what goes back to its supplier."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import OUT, QUALITY

WAYS_OUT = (
    Rule("OUT-NOTHING-LEFT", OUT, ("out",), "out.nothing_left",
         "{out[name]} holds {out[book]} by the book.", "All that is left cannot be said of that.",
         "Weigh or count what is in it, and type how much."),
    Rule("SCRAP-CAUSE", ("stock_scrapped",), ("out",), "out.no_cause",
         "Nobody said why it is scrapped.", "Scrap is added up by its reason.",
         "Choose one of the reasons; for another one write a few words.", fixed=True),
    Rule("SCRAP-HELD", ("stock_scrapped",), ("box",), "box.held",
         "Lot {box[lot_no]} is ON HOLD ({box[hold]}).", "What is scrapped can be tested no more.",
         "Leave it where it is; quality decides what becomes of it.", override=QUALITY),
    Rule("SWEPT-BACK", ("swept",), ("sweep",), "sweep.back",
         "Sweepings never go back into {sweep[into]}.", "Nobody knows of which lots they are, nor what else is in them.",
         "Put them into the scrap bin; scan nothing more and type how much it was.", fixed=True),
    Rule("GIVE-BACK-NO-NOTE", ("given_back",), ("back",), "back.no_note",
         "The delivery note's number is missing.", "With it the supplier knows what came back, and why.",
         "Write the number on the note that goes with it."),
    Rule("GIVE-BACK-NO-SUPPLIER", ("given_back",), ("back",), "back.no_supplier",
         "Nobody knows who supplied what is in {back[name]}.", "It goes back to somebody.", "Choose the supplier."),
    Rule("GIVE-BACK-OTHER-SUPPLIER", ("given_back",), ("back",), "back.other_supplier",
         "{back[name]} came from {back[came_from]}.", "{back[supplier]} cannot take back what others made.",
         "Choose {back[came_from]}, or scan the right container.", override=QUALITY),
    Rule("GIVE-BACK-DOUBT", ("given_back",), ("back",), "back.doubt != ''",
         "What is in {back[name]} is in doubt: {back[doubt]}.", "The supplier may find something else in it.",
         "Say so on the note that goes with it.", verdict="warn"),
    Rule("SAMPLE-GONE", ("sample_ended",), ("sample",), "sample.gone",
         "Sample {sample[name]} is {sample[status]} already.", "It ends once.", "Scan the sample that is in your hand."),
    Rule("SAMPLE-EARLY", ("sample_ended",), ("sample",), "sample.early && !sample.gone",
         "Sample {sample[name]} is to be kept until {sample[until]}.", "Until then somebody may have to test it.",
         "Put it back on its shelf; quality may discard it sooner.", override=QUALITY),
)  # fmt: skip
