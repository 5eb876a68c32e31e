"""Rules of walking round the plant to find what is held."""

from trace.recording.rules.engine import Rule

CONTAINMENT = (
    Rule("WALK-NO-HOLD", ("containment_begun",), ("containment",), "containment.no_hold",
         "This hold is not in force.", "It was released, or never laid.", "Open the list of holds and choose again.",
         basic=True, fixed=True),
    Rule("WALK-NOTHING", ("containment_begun",), ("containment",), "containment.nothing || containment.strange",
         "There is nothing to find.", "The hold or list names no hull, or names what is none.",
         "Ask which hulls share the cause, then begin with that list.", basic=True, fixed=True),
    Rule("WALK-TOO-WIDE", ("containment_begun",), ("containment",), "containment.too_many",
         "More than {containment[most]} hulls are on this list.", "Nobody finds so many on one walk.",
         "Ask for a narrower cause, or lay a hold and walk over that.", fixed=True),
    Rule("WALK-UNKNOWN", ("containment_seen", "containment_ended"), ("containment",), "containment.unknown",
         "No such walk was begun.", "A hull is found for a hold or a list.",
         "Choose the walk again, or ask quality to begin one.", basic=True, fixed=True),
    Rule("WALK-OVER", ("containment_seen", "containment_ended"), ("containment",), "containment.over",
         "This walk is over.", "It was ended, so nobody reads what is found now.",
         "Choose one that is open, or ask quality to begin another.", fixed=True),
    Rule("WALK-EMPTY-PACK", ("containment_seen",), ("containment",), "containment.empty",
         "No hull is in {containment[name]} by the book.", "A pack is seen for the hulls in it.",
         "Scan the plate of each hull.", basic=True, fixed=True),
    Rule("WALK-GONE", ("containment_seen",), ("containment",), "containment.gone != ''",
         "By the record {containment[gone]} has left, to {containment[whom]}.",
         "Either a plate was read wrong or a truck was recorded wrong.",
         "Recorded as seen; put it aside and tell the quality manager: the question is open.", verdict="warn"),
    Rule("WALK-NOT-LISTED", ("containment_seen",), ("containment",), "containment.unlisted != ''",
         "Not on this walk's list: {containment[unlisted]}.", "Neither the hold nor the list names it.",
         "Recorded as seen; leave it where it is unless quality says otherwise.", verdict="warn"),
    Rule("WALK-ELSEWHERE", ("containment_seen",), ("containment",), "containment.elsewhere != ''",
         "By the book {containment[elsewhere]} stands in {containment[stands]}.",
         "It was seen in {containment[place]}.", "The book now says {containment[place]}.", verdict="warn"),
)  # fmt: skip
