"""Rules of registering who owns a hull."""

from trace.recording.rules.engine import Rule

REGISTERS = ("owner_registered",)

OWNERS = (
    Rule("OWNER-UNSAID", REGISTERS, ("owner",), "owner.unsaid",
         "It is not said whether this is the first purchaser.", "A maker has to reach first purchasers.",
         "Say first purchaser or later owner.", fixed=True),
    Rule("OWNER-DAY", REGISTERS, ("owner",), "owner.day_trouble != ''",
         "{owner[day_trouble]}", "Age in use runs from the day of sale.",
         "Write the day of sale, or leave it open.", fixed=True),
    Rule("OWNER-REGION", REGISTERS, ("owner",), "owner.no_region",
         "“{owner[region]}” is no region.", "Hulls are found by it for years.",
         "Write it after ISO 3166-2, as GB-SCT, or only the country, or leave it open.", fixed=True),
    Rule("OWNER-USE", REGISTERS, ("owner",), "owner.no_use",
         "“{owner[use]}” is not a kind of use.", "Only uses that are listed can be counted.",
         "Choose one of the list, or leave it open.", fixed=True),
    Rule("OWNER-THERE", REGISTERS, ("owner",), "owner.again",
         "{owner[hull]} has a first purchaser, registered on {owner[since]}.", "It was sold for the first time once.",
         "Register a later owner, or take the wrong registration back first."),
    Rule("OWNER-NOT-SENT", REGISTERS, ("owner",), "owner.here",
         "{owner[hull]} has not left the plant by the records: it is {owner[status]}.",
         "A plate may have been misread.", "Compare the plate with a photo of it.", verdict="warn"),
    Rule("OWNER-NOBODY", REGISTERS, ("owner",), "owner.nobody",
         "No name or no contact was given.", "A notice will not reach this owner.",
         "Ask for both, and register the hull again with them.", verdict="warn"),
    Rule("OWNER-GONE", ("owner_withdrawn",), ("owner",), "owner.gone",
         "{owner[hull]} has no such registration.", "It was taken back before, or is of another hull.",
         "Open the hull’s page and choose it there.", basic=True, fixed=True),
)  # fmt: skip
