"""Rules of handing a shift over."""

from trace.recording.rules.engine import Rule

SHIFT_END = (
    Rule("HANDOVER-UNKNOWN", ("shift_accepted",), ("shift",), "shift.unknown",
         "No such shift was handed over.", "A shift is accepted from the lead who handed it over.",
         "Open the page of the handover again.", basic=True, fixed=True),
    Rule("HANDOVER-ACCEPTED", ("shift_accepted",), ("shift",), "shift.accepted",
         "This shift was accepted by {shift[who]}, {shift[when]}.", "It is accepted once.",
         "Nothing is to be done; read what is open below.", fixed=True),
    Rule("HANDOVER-OWN", ("shift_accepted",), ("shift",), "shift.own && !shift.accepted",
         "You handed this shift over yourself.", "Another lead accepts it, so that two people have read it.",
         "Let the next lead scan their badge here."),
)  # fmt: skip
