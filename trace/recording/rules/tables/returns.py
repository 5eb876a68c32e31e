"""Rules of hulls that come back: none of them refuses."""

from trace.recording.rules.engine import Rule

COMES = ("returned",)

RETURNS = (
    Rule("RETURN-UNKNOWN", COMES, ("back",), "!back.known",
         "No record knows this hull ({back[hull]}).", "Its plate may be misread, or it is of another maker.",
         "Tag it and put it aside; look for it at Find by what can be read, and scan its plate here once you know it.",
         verdict="warn"),
    Rule("RETURN-NOT-SENT", COMES, ("back",), "back.here",
         "{back[hull]} had not left by the record: it was {back[status]}.",
         "Its plate may be another hull’s, or a truck was not recorded.",
         "It is held: compare the plate, and say at To look at which it was.", verdict="hold"),
    Rule("RETURN-OTHER-COMPLAINT", COMES, ("back",), "back.known && back.other",
         "Complaint {back[complaint]} is of {back[of]}, not of {back[hull]}.", "It came back for another reason, or one of both is misread.",
         "It is held: say at the complaint which hull it is, then look at it.", verdict="hold"),
    Rule("RETURN-TO-LOOK-AT", COMES, ("back",), "back.known",
         "{back[hull]} came back.", "Returned: nobody has looked at it since.",
         "It is held: quality looks, ends the hold, and it is inspected before it is packed again.", verdict="hold"),
)  # fmt: skip
