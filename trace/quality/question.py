"""Which hulls are bad, and which are at risk beside them: how the question is asked, and how an address writes it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.http import QueryDict
from django.utils.translation import gettext as _

MOST_BAD = 500


class QuestionError(ValueError):
    """What was asked cannot be compared. Its text is one sentence."""


@dataclass(frozen=True, slots=True)
class Question:
    """`bad`: plates of the bad hulls. At risk are hulls of their models, made between the days (None: no bound), at
    least `days` days before the day it is asked for, and sold (dispatched); all that were made where `sold` is
    False."""

    bad: tuple[str, ...]
    first: date | None = None
    last: date | None = None
    days: int = 0
    sold: bool = True

    def __post_init__(self) -> None:
        if not self.bad:
            raise QuestionError(_("Name the plates of the bad hulls."))
        if len(self.bad) > MOST_BAD:
            raise QuestionError(_("More than %(most)d bad hulls are no shortlist.") % {"most": MOST_BAD})
        if self.first and self.last and self.first > self.last:
            raise QuestionError(_("The span ends before it begins."))


def from_address(asked: QueryDict) -> Question:
    """bad (once for each plate, or several with blanks or commas between), first, last, days, sold (no: unsold too).
    Raises QuestionError."""
    plates = [plate for said in asked.getlist("bad") for plate in said.replace(",", " ").split()]
    days = asked.get("days", "").strip()
    if days and not (days.isascii() and days.isdecimal() and len(days) <= 5):
        raise QuestionError(_("The least number of days is a whole number."))
    return Question(
        tuple(dict.fromkeys(plates)), _day(asked.get("first", "")), _day(asked.get("last", "")), int(days or 0),
        asked.get("sold", "") != "no",
    )  # fmt: skip


def asked_in_words(question: Question) -> dict[str, str]:
    """The question by names and words, as `from_words` reads it back; what was not asked is left out."""
    words = {
        "bad": "\n".join(question.bad), "first": str(question.first or ""), "last": str(question.last or ""),
        "days": str(question.days or ""), "sold": "" if question.sold else "no",
    }  # fmt: skip
    return {name: said for name, said in words.items() if said}


def from_words(words: Mapping[str, str]) -> Question:
    """Raises QuestionError."""
    asked = QueryDict(mutable=True)
    asked.update({name: " ".join(said.split()) for name, said in words.items()})
    return from_address(asked)


def _day(text: str) -> date | None:
    text = text.strip()
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise QuestionError(_("“%(text)s” is no day: write it as 2026-03-09.") % {"text": text[:40]}) from None
