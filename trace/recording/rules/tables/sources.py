"""Rules about whatever something is taken from."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import DRAWS, OUT, QUALITY

SOURCES = (
    Rule("GIVEN-BACK", (*DRAWS, *OUT, "counted", "proved_empty", "racked"), ("codes",), "codes.given_back != ''",
         "{codes[given_back]}.", "By the records it is in the plant no more.",
         "If it stands here it came back: put it aside, and book it at goods-in."),
    Rule("SOURCE-EMPTY", (*DRAWS, *OUT), ("box",), "box.empty",
         "{box[name]} is empty.", "Its last content was used up or tipped out.", "Scan the box you take from."),
    Rule("SOURCE-HELD", DRAWS, ("box",), "box.held",
         "Lot {box[lot_no]} is ON HOLD ({box[hold]}).", "What is made with it would be held too.",
         "Do not use it. Take another released lot.", override=("quality",)),
    Rule("SOURCE-NOT-RELEASED", DRAWS, ("box",), "!box.empty && !box.usable && box.status != 'used up' && !box.given_back",
         "{box[material]} lot {box[lot_no]} is {box[status]}.", "Only released lots are used.",
         "Take a released lot, or ask quality for its release.", override=QUALITY),
    Rule("SOURCE-USED-UP", (*DRAWS, *OUT), ("box",), "!box.empty && box.used_up",
         "{box[name]} is used up by the book.", "Nothing of it is left to take, and no fill difference explains more.",
         "Scan the box you take from; if this one was filled again, record that first."),
    Rule("SOURCE-EXPIRED", DRAWS, ("box",), "box.expired",
         "{box[material]} lot {box[lot_no]} expired on {box[expires]}.", "It is past its shelf life.",
         "Put it aside; quality can have it tested and extended.", override=QUALITY),
    Rule("SOURCE-OPEN-TOO-LONG", DRAWS, ("box",), "box.open_too_long",
         "{box[material]} lot {box[lot_no]} was opened more than {box[open_days]} days ago.",
         "An opened bag takes up moisture and ages.", "Take a fresh bag; quality can have this one tested.",
         override=QUALITY),
    Rule("OVERDRAW", (*DRAWS, *OUT), ("box",), "!box.empty && box.too_little",
         "{box[name]} holds {box[balance]} by the book, {box[short]} too little.",
         "More cannot come out than went in.",
         "If it was filled since, record that first; else have what is in it counted, or {box[rest]}.",
         fixed=True),
)  # fmt: skip
