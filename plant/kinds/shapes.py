"""How a field of plant data is written: each shape checks a value, finds what it refers to, and describes itself."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from difflib import get_close_matches
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from plant.kinds.faults import Body, Faults, Named, missing, unknown, wrong

DECIMAL = re.compile(r"[0-9]{1,12}(\.[0-9]{1,9})?")
CLOCK = re.compile("([01][0-9]|2[0-3]):[0-5][0-9]")
HEX = re.compile("#[0-9a-fA-F]{6}")
LARGEST = 1_000_000
Schema = dict[str, Any]


class Shape:
    """The base of all: takes anything. `plain`: one box of a form is enough for it."""

    plain = False

    def faults(self, where: str, value: Any) -> Faults:  # noqa: ARG002 - each shape is asked alike
        """What is wrong with the value of the field `where`; nothing when it can be kept."""
        yield from ()

    def names(self, where: str, value: Any, body: Body) -> Iterator[Named]:  # noqa: ARG002
        """What the value refers to; a value of the wrong shape refers to nothing. `body`: the whole thing."""
        yield from ()

    def schema(self) -> Schema:
        """The shape as a JSON Schema."""
        return {}

    def said(self) -> str:
        """The shape in a word or two, for the table of DEVELOPERS.md."""
        return ""


@dataclass(frozen=True)
class Text(Shape):
    empty: bool = False
    plain = True

    def faults(self, where: str, value: Any) -> Faults:
        if not isinstance(value, str):
            yield wrong(where, value, _("a text in quotes"))
        elif not (self.empty or value.strip()):
            yield wrong(where, value, _("filled in"))

    def schema(self) -> Schema:
        return {"type": "string"} if self.empty else {"type": "string", "minLength": 1}


@dataclass(frozen=True)
class Digits(Shape):
    """So many digits as text: a number that begins with noughts keeps them."""

    least: int
    most: int
    plain = True

    def faults(self, where: str, value: Any) -> Faults:
        if not isinstance(value, str) or not re.fullmatch(f"[0-9]{{{self.least},{self.most}}}", value):
            yield wrong(where, value, _("%(least)d to %(most)d digits in quotes") % vars(self))

    def schema(self) -> Schema:
        return {"type": "string", "pattern": f"^[0-9]{{{self.least},{self.most}}}$"}

    def said(self) -> str:
        return f"{self.least} to {self.most} digits"


@dataclass(frozen=True)
class Number(Shape):
    """A decimal as text, kept digit by digit; above zero unless `zero`."""

    zero: bool = False
    plain = True

    def faults(self, where: str, value: Any) -> Faults:
        good = isinstance(value, str) and DECIMAL.fullmatch(value) and (self.zero or Decimal(value) > 0)
        if not good:
            wanted = _('a number, as "12.20"') if isinstance(value, str) else _('a number in quotes, as "12.20"')
            yield wrong(where, value, wanted)

    def schema(self) -> Schema:
        return {"type": "string", "pattern": f"^{DECIMAL.pattern}$"}

    def said(self) -> str:
        return "number"


@dataclass(frozen=True)
class Whole(Shape):
    least: int = 0
    most: int = LARGEST
    plain = True

    def faults(self, where: str, value: Any) -> Faults:
        if not isinstance(value, int) or isinstance(value, bool):
            yield wrong(where, value, _("a whole number"))
        elif not self.least <= value <= self.most:
            yield wrong(where, value, _("a whole number from %(least)d to %(most)d") % vars(self))

    def schema(self) -> Schema:
        return {"type": "integer", "minimum": self.least, "maximum": self.most}

    def said(self) -> str:
        return "whole"


@dataclass(frozen=True)
class Day(Shape):
    plain = True

    def faults(self, where: str, value: Any) -> Faults:
        if not is_day(value):
            yield wrong(where, value, _('a day, as "2027-03-01"'))

    def schema(self) -> Schema:
        return {"type": "string", "format": "date"}

    def said(self) -> str:
        return "day"


@dataclass(frozen=True)
class Until(Shape):
    """A day, or the moment at which a day badge ends."""

    plain = True

    def faults(self, where: str, value: Any) -> Faults:
        try:
            aware = isinstance(value, str) and datetime.fromisoformat(value).tzinfo is not None
        except ValueError:
            aware = False
        if not aware and not is_day(value):
            yield wrong(where, value, _('a day, as "2027-03-01"'))

    def schema(self) -> Schema:
        return {"type": "string"}

    def said(self) -> str:
        return "day or time"


def is_day(value: Any) -> bool:
    try:
        return isinstance(value, str) and len(value) == len("2027-03-01") and value == f"{date.fromisoformat(value)}"
    except ValueError:
        return False


@dataclass(frozen=True)
class YesNo(Shape):
    plain = True

    def faults(self, where: str, value: Any) -> Faults:
        if not isinstance(value, bool):
            yield wrong(where, value, _("true or false"))

    def schema(self) -> Schema:
        return {"type": "boolean"}

    def said(self) -> str:
        return "yes or no"


@dataclass(frozen=True)
class Like(Shape):
    """A text of a fixed form."""

    pattern: re.Pattern[str]
    word: str
    wanted: Callable[[], str]
    plain = True

    def faults(self, where: str, value: Any) -> Faults:
        if not isinstance(value, str) or not self.pattern.fullmatch(value):
            yield wrong(where, value, self.wanted())

    def schema(self) -> Schema:
        return {"type": "string", "pattern": f"^({self.pattern.pattern})$"}

    def said(self) -> str:
        return self.word


COLOUR = Like(HEX, "#hex", lambda: _('a colour, as "#9fb1ba"'))
TIME = Like(CLOCK, "time", lambda: _('a time of day, as "06:00"'))


@dataclass(frozen=True)
class OneOf(Shape):
    """One of some words; `words` is a function where they are said in a part that reads this one.

    Where that part is not loaded (a command of manage.py knows no station) there are no words, and any text will do.
    """

    words: tuple[str, ...] | Callable[[], tuple[str, ...]]
    plain = True

    def all(self) -> tuple[str, ...]:
        return self.words if isinstance(self.words, tuple) else self.words()

    def faults(self, where: str, value: Any) -> Faults:
        words = self.all()
        if not words:
            yield from Text().faults(where, value)
        elif value not in words:
            yield wrong(where, value, _("one of %(words)s") % {"words": ", ".join(words)})

    def schema(self) -> Schema:
        words = list(self.all())
        return {"type": "string", **({"enum": words} if words else {})}

    def said(self) -> str:
        short = isinstance(self.words, tuple) and len(self.words) <= 6
        return " / ".join(self.all()) if short else "a word"


@dataclass(frozen=True)
class Ref(Shape):
    """The key of another thing. `only`: what that thing must say of itself, field -> values.

    With `by_colour` the text may hold {colour}, which stands for each colour of the product.
    """

    kind: str
    only: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    by_colour: bool = False
    plain = True

    def faults(self, where: str, value: Any) -> Faults:
        yield from Text().faults(where, value)

    def names(self, where: str, value: Any, body: Body) -> Iterator[Named]:
        if not isinstance(value, str) or not value.strip():
            return
        colours = body.get("colours") if self.by_colour and "{colour}" in value else None
        for colour in colours if isinstance(colours, dict) else [""]:
            yield Named(where, self.kind, value.replace("{colour}", colour) if colour else value, self.only)

    def schema(self) -> Schema:
        return {"type": "string", "description": f"Key of a {self.kind.replace('_', ' ')}."}

    def said(self) -> str:
        said = "/".join(word for words in self.only.values() for word in words) or self.kind.replace("_", " ")
        return f"→ {said}"


@dataclass(frozen=True)
class Range(Shape):
    """[least, most]; with `single` one number will do."""

    single: bool = False

    def faults(self, where: str, value: Any) -> Faults:
        if self.single and not isinstance(value, list):
            yield from Number().faults(where, value)
            return
        ends = value if isinstance(value, list) and len(value) == 2 else None
        if ends is None or any(True for end in ends for _f in Number(zero=True).faults(where, end)):
            yield wrong(where, value, self._wanted())
        elif Decimal(ends[0]) > Decimal(ends[1]):
            yield wrong(where, f"{ends[0]}, {ends[1]}", self._wanted())

    def _wanted(self) -> str:
        said = _('least and most, as ["3.2", "3.8"]')
        return _("one number, or %(range)s") % {"range": said} if self.single else said

    def schema(self) -> Schema:
        both = {"type": "array", "items": Number().schema(), "minItems": 2, "maxItems": 2}
        return {"oneOf": [Number().schema(), both]} if self.single else both

    def said(self) -> str:
        return "number or [low, high]" if self.single else "[low, high]"


@dataclass(frozen=True)
class Every(Shape):
    """A list of one shape; `many` is how many it must have, `least` how few it may."""

    inner: Shape
    least: int = 0
    many: int = 0

    def faults(self, where: str, value: Any) -> Faults:
        if not isinstance(value, list):
            yield wrong(where, value, self._wanted())
            return
        if len(value) < self.least or (self.many and len(value) != self.many):
            wanted = _("a list of %(n)d") % {"n": self.many} if self.many else _("a list with something in it")
            yield wrong(where, value, wanted)
        for n, one in enumerate(value, 1):
            yield from self.inner.faults(self._place(where, n), one)

    def names(self, where: str, value: Any, body: Body) -> Iterator[Named]:
        for n, one in enumerate(value if isinstance(value, list) else (), 1):
            yield from self.inner.names(self._place(where, n), one, body)

    def _place(self, where: str, n: int) -> str:
        """A part of a list is counted; a word of a list is quoted, so its list is named alone."""
        return f"{where} {n}" if isinstance(self.inner, Parts | Every) else where

    def _wanted(self) -> str:
        return _("a list") if isinstance(self.inner, Parts | Every) else _('a list of texts, as ["T430"]')

    def schema(self) -> Schema:
        size: Schema = {"minItems": self.many or self.least} if self.many or self.least else {}
        if self.many:
            size["maxItems"] = self.many
        return {"type": "array", "items": self.inner.schema(), **size}

    def said(self) -> str:
        inner = self.inner.said()
        return f"[{inner}]" if inner else "[text]"


@dataclass(frozen=True)
class ByName(Shape):
    """Names with values of one shape. `keys`: the names there are; None: any that is not empty."""

    inner: Shape
    keys: OneOf | Ref | None = None

    def faults(self, where: str, value: Any) -> Faults:
        if not isinstance(value, dict):
            yield wrong(where, value, _("names with values in braces"))
            return
        for name, one in value.items():
            if isinstance(self.keys, OneOf):
                yield from self.keys.faults(where, name)
            elif not name.strip():
                yield wrong(where, name, _("names that are not empty"))
            yield from self.inner.faults(f"{where} {name}", one)

    def names(self, where: str, value: Any, body: Body) -> Iterator[Named]:
        for name, one in value.items() if isinstance(value, dict) else ():
            if isinstance(self.keys, Ref):
                yield from self.keys.names(where, name, body)
            yield from self.inner.names(f"{where} {name}", one, body)

    def schema(self) -> Schema:
        names = {"propertyNames": self.keys.schema()} if isinstance(self.keys, OneOf) else {}
        return {"type": "object", "additionalProperties": self.inner.schema(), **names}

    def said(self) -> str:
        key = self.keys.said() if isinstance(self.keys, Ref) else "task" if self.keys else "name"
        return f"{{{key.removeprefix('→ ')}: {self.inner.said() or 'text'}}}"


@dataclass(frozen=True)
class Field:
    """One field: how it is written, what it is for in one sentence, the unit of its figure, whether it must be there.

    by_station: an act fills it in; a form shows it only where it is filled.
    """

    name: str
    shape: Shape
    about: Promise
    unit: str = ""
    needed: bool = False
    by_station: bool = False

    def schema(self) -> Schema:
        unit = f" In {self.unit}." if self.unit else ""
        said = {**self.shape.schema(), "description": f"{self.about}{unit}"}
        return said if self.needed else {**said, "nullable": True}


@dataclass(frozen=True)
class Parts(Shape):
    """Fields within a field."""

    fields: tuple[Field, ...]

    def faults(self, where: str, value: Any) -> Faults:
        if not isinstance(value, dict):
            yield wrong(where, value, _("names with values in braces"))
            return
        known = {one.name for one in self.fields}
        for name in value:
            if name not in known:
                yield unknown(_inside(where, name), "".join(get_close_matches(name, known, 1)))
        for one in self.fields:
            if one.needed and one.name not in value:
                yield missing(_inside(where, one.name), str(one.about))
            elif one.name in value and (one.needed or not one.shape.plain or value[one.name] is not None):
                yield from one.shape.faults(_inside(where, one.name), value[one.name])

    def names(self, where: str, value: Any, body: Body) -> Iterator[Named]:
        for one in self.fields:
            if isinstance(value, dict) and one.name in value:
                yield from one.shape.names(_inside(where, one.name), value[one.name], body)

    def schema(self) -> Schema:
        needed = [one.name for one in self.fields if one.needed]
        return {
            "type": "object",
            "properties": {one.name: one.schema() for one in self.fields},
            "additionalProperties": False,
            **({"required": needed} if needed else {}),
        }

    def said(self) -> str:
        return f"{{{', '.join(one.name for one in self.fields)}}}"


@dataclass(frozen=True)
class Either(Shape):
    """A short way of writing, or its parts."""

    short: Shape
    parts: Parts

    def faults(self, where: str, value: Any) -> Faults:
        yield from (self.parts if isinstance(value, dict) else self.short).faults(where, value)

    def schema(self) -> Schema:
        return {"oneOf": [self.short.schema(), self.parts.schema()]}

    def said(self) -> str:
        return f"{self.short.said()} or {self.parts.said()}"


def _inside(where: str, name: str) -> str:
    return f"{where} {name}".lstrip()
