"""What can be wrong with a body of plant data, and the sentences that say it: what, why, what now."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from django.utils.translation import gettext as _

Body = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong. `where`: the field as the form names it, "" for the whole."""

    where: str
    what: str
    why: str
    now: str

    def __str__(self) -> str:
        return f"{self.what} {self.why} {self.now}"


Faults = Iterator[Fault]


@dataclass(frozen=True, slots=True)
class Named:
    """A reference that a body holds: `where` it stands, the kind and key it names, and what that must say of itself."""

    where: str
    kind: str
    key: str
    only: Mapping[str, tuple[str, ...]]


class Other(Protocol):
    """One thing of the plant as it stands."""

    @property
    def key(self) -> str: ...
    @property
    def body(self) -> dict[str, Any]: ...
    @property
    def ended(self) -> bool: ...


class Others(Protocol):
    """All things of the plant as they stand: what references are held against."""

    def get(self, kind: str, key: str | None) -> Any: ...
    def of_kind(self, kind: str) -> Any: ...


def missing(where: str, about: str) -> Fault:
    return Fault(where, _("“%(field)s” is missing.") % {"field": where}, about, _("Fill it in."))


def wrong(where: str, value: Any, wanted: str) -> Fault:
    """The value cannot be read as what it is."""
    return Fault(
        where,
        _("“%(field)s” must be %(wanted)s.") % {"field": where, "wanted": wanted},
        _("“%(given)s” stands there.") % {"given": said(value)},
        _("Correct it."),
    )


def unknown(where: str, near: str) -> Fault:
    """A field that nothing reads."""
    now = _("Is “%(near)s” meant? Else take it out.") % {"near": near} if near else _("Take it out.")
    return Fault(
        where, _("There is no field “%(field)s” here.") % {"field": where},
        _("Nothing would ever read it."), now,
    )  # fmt: skip


def said(value: Any) -> str:
    """A value as a sentence can quote it: short, without what a page cannot show."""
    text = str(value) if isinstance(value, str | int | bool) or value is None else type(value).__name__
    words = {"dict": _("names with values"), "list": _("a list"), "None": _("nothing")}
    text = words.get(text, text)
    # Brackets of tokens stand for names, which are put in when a sentence is shown: nobody may type one.
    text = "".join(c if c.isprintable() and c not in "⟦⟧" else "?" for c in text)
    return text if len(text) <= 40 else f"{text[:39]}…"
