"""Rules about who may do the work."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import ALL, LEADS

PEOPLE = (
    Rule("UNTRAINED", ALL, ("person",), "person.untrained",
         "{person[name]} has no live sign-off for {person[task]}.", "Untrained work needs a trained person's scan beside it.",
         "Let a trained person scan their badge, then go on: it counts as a witnessed run.", override=LEADS),
)  # fmt: skip
