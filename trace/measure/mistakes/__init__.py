"""The measurement of mistakes: kinds of them by where they are made, the plant they are played in, what comes."""

from trace.measure.mistakes.measurement import HELP, add_arguments, run

__all__ = ["HELP", "add_arguments", "run"]
