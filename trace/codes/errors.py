"""The one error of this package: a text that is not the code it should be."""


class CodeError(ValueError):
    """A code, amount or address was not accepted.

    Its text says what is wrong, why, and what to do now; the three parts are kept apart for the screens.
    """

    def __init__(self, what: str, why: str = "", now: str = "") -> None:
        super().__init__(what, why, now)
        self.what, self.why, self.now = what, why, now

    def __str__(self) -> str:
        return " ".join(part for part in (self.what, self.why, self.now) if part)


class AmountError(CodeError):
    """A typed amount was not accepted; its text is one sentence that says what to write instead."""
