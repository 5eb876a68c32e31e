"""What hulls may have in common: a thing or fact that the records hold, or several joined by and, or and not.

Nothing here reads a database. trace/genealogy/sharing.py says which hulls share one.
"""

import re
from calendar import monthrange
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal, InvalidOperation

from django.utils.translation import gettext as _

from trace.genealogy.amounts import Verdict
from trace.genealogy.cause_words import FOLLOWS, NAMED, RANGED, WORDS, names_more, needs_more
from trace.genealogy.day import DayError, moment

STRENGTH: dict[Verdict, int] = {"cannot": 0, "may": 1, "certain": 2}
# A question of more parts than this is not one that somebody means.
MOST_PARTS, DEEPEST = 60, 20
LONGEST = 40
# How people say a range of which one end is open; both ends are counted.
FROM_IT = frozenset({"over", "above", "from", "at least", ">", ">=", "≥"})
SAID_RANGE = re.compile(r"(over|above|from|at least|under|below|up to|at most|>=?|<=?|≥|≤) *([-0-9.]+)", re.IGNORECASE)
NAMED_FIRST = re.compile(r"([^\W\d].*?) +((?:over|above|from|at least|under|below|up to|at most|[<>≥≤]|[-0-9.]).*)")


class CauseError(ValueError):
    """What was asked for cannot be read as a cause. Its text is one sentence."""


@dataclass(frozen=True, slots=True)
class Holds:
    """Something of what `code` stands for went into the hull; into this layer, position or zone, where one is named; at
    least so much of it, in kg, pieces or metres."""

    code: str
    part: str = ""
    least: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Supplied:
    """Something of any lot of this supplier went into the hull."""

    supplier: str


@dataclass(frozen=True, slots=True)
class With:
    """The hull, or what went into it, was made, handled or sent with this thing, or was made as this; `word` is one of
    cause_words.NAMED. `before`: of since-check, the moment before which the check was; "": now."""

    word: str
    key: str
    before: str = ""


@dataclass(frozen=True, slots=True)
class Within:
    """A figure lies between these, both counted; None: no bound on that side. `word` is one of cause_words.RANGED,
    `of` what is named after its colon."""

    word: str
    of: str
    low: Decimal | None
    high: Decimal | None

    def takes(self, value: Decimal) -> bool:
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


@dataclass(frozen=True, slots=True)
class Made:
    """The hull left the mould between these plant days, both counted; None: no bound on that side."""

    first: date | None
    last: date | None


@dataclass(frozen=True, slots=True)
class All:
    """Each of the parts."""

    parts: tuple["Cause", ...]


@dataclass(frozen=True, slots=True)
class Some:
    """At least one of the parts."""

    parts: tuple["Cause", ...]


@dataclass(frozen=True, slots=True)
class Not:
    """The part does not hold."""

    part: "Cause"


Simple = Holds | Supplied | With | Made | Within
Cause = Simple | All | Some | Not


def simple_parts(cause: Cause) -> list[Simple]:
    """Every cause that is not made up of others, each once, in the order they are asked."""
    if isinstance(cause, All | Some):
        return list(dict.fromkeys(one for part in cause.parts for one in simple_parts(part)))
    return simple_parts(cause.part) if isinstance(cause, Not) else [cause]


def all_of(verdicts: Iterable[Verdict]) -> Verdict:
    """What holds of a hull that shares each of several causes by these verdicts."""
    return min(verdicts, key=STRENGTH.__getitem__, default="certain")


def some_of(verdicts: Iterable[Verdict]) -> Verdict:
    return max(verdicts, key=STRENGTH.__getitem__, default="cannot")


def opposite(verdict: Verdict) -> Verdict:
    """Of what may share a cause it may be true that it does not."""
    turned: dict[Verdict, Verdict] = {"certain": "cannot", "may": "may", "cannot": "certain"}
    return turned[verdict]


def read_cause(words: Sequence[str]) -> Cause:
    """The cause that these words ask for: `holds=K-5510 in=inner and made=2026-03-03..2026-03-09 and not arm=S2`.

    Each word is one of `and`, `or`, `not`, `(`, `)`, or name=value. `and` binds more than `or`; two causes side by side
    mean `and`. Raises CauseError.
    """
    if not words:
        raise CauseError(_("Nothing was asked for: name a cause, such as holds=K-5510."))
    if len(words) > 4 * MOST_PARTS:
        raise CauseError(_("That is more than can be asked at once."))
    reader = _Reader(list(words))
    cause = reader.either()
    if reader.left:
        raise CauseError(_("“%(word)s” stands where nothing can follow.") % {"word": reader.left[0]})
    return cause


def written(cause: Cause) -> list[str]:
    """The words of a cause, as read_cause reads them."""
    match cause:
        case Not(part):
            return ["not", *_closed(part)]
        case All(parts) | Some(parts):
            return _joined("and" if isinstance(cause, All) else "or", parts)
        case _:
            return _simply(cause)


def _simply(cause: Simple) -> list[str]:
    match cause:
        case Holds(code, part, least):
            more = [*([f"in={part}"] if part else []), *([f"from={least:f}"] if least is not None else [])]
            return [f"holds={code}", *more]
        case Supplied(supplier):
            return [f"supplier={supplier}"]
        case With(word, key, before):
            return [f"{word}={key}", *([f"before={before}"] if before else [])]
        case Within(word, of, low, high):
            return [f"{word}:{of}={_plain(low)}..{_plain(high)}" if of else f"{word}={_plain(low)}..{_plain(high)}"]
        case Made(first, last):
            return [f"made={first or ''}..{last or ''}"]


def _joined(by: str, parts: Sequence[Cause]) -> list[str]:
    found: list[str] = []
    for part in parts:
        found += ([by] if found else []) + _closed(part)
    return found


def _closed(cause: Cause) -> list[str]:
    """In brackets, where it is made up of others."""
    return ["(", *written(cause), ")"] if isinstance(cause, All | Some) else written(cause)


@dataclass
class _Reader:
    """The words still to be read."""

    left: list[str]
    depth: int = 0

    def either(self) -> Cause:
        parts = [self.each()]
        while self._next_is("or"):
            parts.append(self.each())
        return parts[0] if len(parts) == 1 else Some(tuple(parts))

    def each(self) -> Cause:
        parts = [self.one()]
        while self._next_is("and") or (self.left and self.left[0] not in ("or", ")")):
            parts.append(self.one())
        return parts[0] if len(parts) == 1 else All(tuple(parts))

    def one(self) -> Cause:
        if not self.left:
            raise CauseError(_("The question ends where another cause must follow."))
        word = self.left.pop(0)
        if word == "not":
            return self._deeper(lambda: Not(self.one()))
        if word == "(":
            inner = self._deeper(self.either)
            if not self._next_is(")"):
                raise CauseError(_("A bracket is opened and not closed."))
            return inner
        return self._simple(word)

    def _deeper(self, read: Callable[[], Cause]) -> Cause:
        self.depth += 1
        if self.depth > DEEPEST:
            raise CauseError(_("That is more than can be asked at once."))
        found = read()
        self.depth -= 1
        return found

    def _next_is(self, word: str) -> bool:
        if self.left[:1] != [word]:
            return False
        self.left.pop(0)
        return True

    def _simple(self, word: str) -> Cause:
        name, said, value = word.partition("=")
        value = value.strip()
        if not said or not value:
            raise CauseError(_("“%(word)s” is no cause: one is written name=value.") % {"word": word})
        name, _colon, of = name.partition(":")
        more = self._following(name)
        if name == "holds":
            return Holds(value, more.get("in", ""), _number(more["from"]) if "from" in more else None)
        if name == "supplier":
            return Supplied(value)
        if name == "made":
            return _made(value)
        if name in RANGED:
            return _within(name, of.strip(), value)
        if name in NAMED:
            return With(name, value, _moment(more.get("before", "")))
        raise CauseError(
            _("“%(name)s” is not known as a cause. Known are: %(known)s.")
            % {"name": name, "known": ", ".join(WORDS)}
        )

    def _following(self, name: str) -> dict[str, str]:
        """What is said more of a cause, by the words that stand after it."""
        found: dict[str, str] = {}
        while self.left:
            word, said, value = self.left[0].partition("=")
            if word not in FOLLOWS.get(name, ()) or not said:
                break
            self.left.pop(0)
            found[word] = value.strip()
        return found


def _plain(number: Decimal | None) -> str:
    return "" if number is None else f"{number:f}"


def _number(text: str) -> Decimal:
    try:
        number = Decimal(text)
    except InvalidOperation:
        number = Decimal("NaN")
    # Decimal takes the digits of every script and exponents of any length.
    if not number.is_finite() or not text.isascii() or "e" in text.lower() or "_" in text or len(text) > LONGEST:
        raise CauseError(_("“%(text)s” is no number: write it as 3.4.") % {"text": text[:LONGEST]})
    return number


def _moment(text: str) -> str:
    if text:
        try:
            moment(text)
        except DayError as error:
            raise CauseError(str(error)) from None
    return text


def _within(name: str, of: str, text: str) -> Within:
    """A range as 3.4..3.6, or one figure; or as people say it: over 215, under 4, mfi over 4."""
    if of and not names_more(name):
        raise CauseError(_("“%(name)s” takes no name after a colon.") % {"name": name})
    if names_more(name) and not of and (named := NAMED_FIRST.fullmatch(text)):
        of, text = named[1], named[2]
    if needs_more(name) and not of:
        raise CauseError(_("“%(name)s” needs to be told of what: %(name)s:NAME=3.4..3.6.") % {"name": name})
    return Within(name, of, *_bounds(text))


def _bounds(text: str) -> tuple[Decimal | None, Decimal | None]:
    if said := SAID_RANGE.fullmatch(text):
        text = f"{said[2]}.." if said[1].lower() in FROM_IT else f"..{said[2]}"
    low, several, high = text.partition("..")
    bounds = [_number(end) if end else None for end in (low, high if several else low)]
    if bounds == [None, None]:
        raise CauseError(_("“%(text)s” names no figure.") % {"text": text[:LONGEST]})
    if bounds[0] is not None and bounds[1] is not None and bounds[0] > bounds[1]:
        raise CauseError(_("%(text)s ends before it begins.") % {"text": text[:LONGEST]})
    return bounds[0], bounds[1]


def _made(text: str) -> Made:
    """A day, a month, or first..last with either left out."""
    first, several, last = text.partition("..")
    try:
        days = [_day(first, last=False), _day(last if several else first, last=True)]
    except ValueError:
        raise CauseError(_("“%(text)s” is no day or span of days: 2026-03-03..2026-03-09.") % {"text": text}) from None
    if days[0] and days[1] and days[0] > days[1]:
        raise CauseError(_("%(text)s ends before it begins.") % {"text": text})
    if days == [None, None]:
        raise CauseError(_("“%(text)s” names no day.") % {"text": text})
    return Made(*days)


def _day(text: str, *, last: bool) -> date | None:
    """A day; of a month its first or last. None for no text; raises ValueError."""
    text = " ".join(text.split())
    if not text:
        return None
    for form in ("%d %B %Y", "%d %b %Y"):
        with suppress(ValueError):
            return datetime.strptime(text, form).date()  # noqa: DTZ007 - a day of the plant has no zone
    for form in ("%Y-%m", "%B %Y", "%b %Y"):
        with suppress(ValueError):
            month = datetime.strptime(text, form).date()  # noqa: DTZ007
            return month.replace(day=monthrange(month.year, month.month)[1]) if last else month
    return date.fromisoformat(text)
