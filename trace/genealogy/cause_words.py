"""The words by which causes are asked for, each said once: how a cause is called, of what it is read, and which missing
records leave it open. What reads, judges, says and offers causes goes through this table.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

# What is missing of a unit (trace/genealogy/missing.py), by what would have named a thing in it.
BEFORE_RECORDS = "before records"
COOKED: frozenset[str] = frozenset({"cycle", BEFORE_RECORDS})
WEIGHED: frozenset[str] = frozenset({"layer", "charge", "source", "weighing", BEFORE_RECORDS})
SENT: frozenset[str] = frozenset({"consignee"})
OLD: frozenset[str] = frozenset({BEFORE_RECORDS})
NONE: frozenset[str] = frozenset()


ITS_KEY = _("its key")


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """One word. `does` and `does_not` stand after "hulls that" and before the value; `value` says what is typed."""

    does: Promise
    does_not: Promise
    value: Promise = ITS_KEY


@dataclass(frozen=True, slots=True, kw_only=True)
class Held(Word):
    """Something that the hull is made of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class When(Word):
    """The time at which the hull left its mould."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing(Word):
    """A thing of the plant with which the hull, or what went into it, was made, handled or sent.

    kind: of thing; roles: which it has in an act (none: any). missing: the gaps that could hide its name (None: any).
    """

    kind: str
    roles: tuple[str, ...] = ()
    missing: frozenset[str] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact(Word):
    """What the hull was made as: `of` is the word under which its own record says so. `kind`: of thing it names."""

    of: str
    kind: str = ""


# In the order of the picker.
WORDS: Mapping[str, Word] = {
    "holds": Held(
        does=_("hold something of"), does_not=_("hold nothing of"), value=_("the code of a lot or a container"),
    ),
    "supplier": Held(does=_("hold a lot of supplier"), does_not=_("hold no lot of supplier")),
    "made": When(
        does=_("left the mould"), does_not=_("did not leave the mould"),
        value=_("a plant day, or 2026-03-03..2026-03-09 with either end left out"),
    ),
    "model": Fact(does=_("are of model"), does_not=_("are not of model"), of="product", kind="product"),
    "mould": Thing(
        does=_("were made in mould"), does_not=_("were not made in mould"), kind="mould", missing=OLD,
    ),
    "arm": Thing(
        does=_("were cooked on arm"), does_not=_("were not cooked on arm"),
        kind="machine", roles=("arm",), missing=COOKED,
    ),
    "oven": Thing(
        does=_("were cooked in oven"), does_not=_("were not cooked in oven"),
        kind="machine", roles=("oven",), missing=COOKED,
    ),
    "machine": Thing(
        does=_("were made with machine"), does_not=_("were not made with machine"), kind="machine", missing=COOKED,
    ),
    "scale": Thing(
        does=_("were weighed on scale"), does_not=_("were not weighed on scale"),
        kind="instrument", roles=("scale",), missing=WEIGHED,
    ),
    "logger": Thing(
        does=_("were logged by"), does_not=_("were not logged by"),
        kind="instrument", roles=("logger",), missing=COOKED,
    ),
    "instrument": Thing(
        does=_("were measured with"), does_not=_("were not measured with"),
        kind="instrument", missing=COOKED | WEIGHED,
    ),
    "person": Thing(
        does=_("were worked on by"), does_not=_("were not worked on by"), kind="person", missing=None,
    ),
    "works-order": Thing(
        does=_("were made for works order"), does_not=_("were not made for works order"),
        kind="works_order", missing=OLD,
    ),
    "sales-order": Thing(
        does=_("were packed for order"), does_not=_("were not packed for order"), kind="sales_order", missing=SENT,
    ),
    "consignee": Thing(does=_("were sent to"), does_not=_("were not sent to"), kind="consignee", missing=SENT),
    "place": Thing(does=_("were stored at"), does_not=_("were not stored at"), kind="place", missing=NONE),
}  # fmt: skip
# Words by which one of these can be asked for as a key of its own kind.
NAMED = {name: word for name, word in WORDS.items() if isinstance(word, Thing | Fact)}
