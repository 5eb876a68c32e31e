"""Rules of what leaves the containers and is made into nothing: scrap."""

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
)  # fmt: skip
