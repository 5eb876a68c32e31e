"""Rules of calibrations."""

from trace.recording.rules.engine import Rule

INSTRUMENTS = (
    Rule("CALIBRATION-TWICE", ("calibrated",), ("calibration",), "calibration.again",
         "Certificate {calibration[certificate]} is recorded for this {calibration[name]} already.",
         "Entered twice it would count twice.",
         "Look at the number; what was entered wrongly is taken back on the page of the instrument."),
    Rule("CALIBRATION-FAILED", ("calibrated",), ("calibration",), "calibration.found_fails",
         "The {calibration[name]} was found {calibration[off]} off at {calibration[at]}; its limit is {calibration[limit]}.",
         "What it measured since its last good check is in doubt.",
         "It stands in the list Instruments: quality holds what it measured, or says why not.",
         verdict="warn", fixed=True),
    Rule("CALIBRATION-LEFT", ("calibrated",), ("calibration",), "calibration.left_fails",
         "The {calibration[name]} was left outside its limit.", "What it shows cannot be trusted.",
         "Take it out of use until a calibration leaves it within its limit.", verdict="warn", fixed=True),
    Rule("CALIBRATION-NO-LIMIT", ("calibrated",), ("calibration",), "calibration.no_limit && !calibration.found_fails",
         "Nothing says how far the {calibration[name]} may be off at each of these references.",
         "What has no limit is neither passed nor failed: this is no check of it.",
         "Have its class or its limit entered under Plant data, take this back and enter it again.", verdict="warn"),
    Rule("CALIBRATION-UNSURE", ("calibrated",), ("calibration",), "calibration.unsure",
         "The uncertainty of {calibration[uncertainty]} is more than a third of the limit.",
         "Whether it was within its limit is less sure than it seems.",
         "Ask for a calibration with a smaller uncertainty.", verdict="warn"),
)  # fmt: skip
