"""Rules about who may do the work."""

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.guards import ALL, LEADS, QUALITY

PEOPLE = (
    Rule("UNTRAINED", ALL, ("person",), "person.untrained",
         "{person[name]} has no live sign-off for {person[task]}.", "Untrained work needs a trained person's scan beside it.",
         "Let a trained person scan their badge, then go on: it counts as a witnessed run.", override=LEADS),
    Rule("TRAIN-SELF", ("trained",), ("training",), "training.self",
         "{training[name]} cannot train themselves.", "A run is witnessed by somebody else.",
         "Name who witnessed it.", fixed=True),
    Rule("TRAIN-TRAINER", ("trained",), ("training",), "training.trainer_untrained && !training.self",
         "{training[trainer]} has no live sign-off for {training[task]}.", "Who is not trained can witness nothing.",
         "Name a trainer who has one.", override=QUALITY),
    Rule("TRAIN-RUNS", ("trained",), ("training",), "training.few",
         "{training[seen]} witnessed runs in {training[task]} are recorded of {training[name]}.",
         "This plant asks for {training[wanted]} before a sign-off.", "Record the runs that are missing, or do them.",
         override=QUALITY),
)  # fmt: skip
