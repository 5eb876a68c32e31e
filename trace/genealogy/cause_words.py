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
A_NAME = _("name")
A_RANGE = _("a range as 215.. or 3.4..3.6, with either end left out")


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """One word. `does` and `does_not` stand after "hulls that" and before the value; `value` says what is typed, `more`
    what is named after a colon."""

    does: Promise
    does_not: Promise
    value: Promise = ITS_KEY
    more: Promise = A_NAME


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
class Unchecked(Thing):
    """An instrument between its last good check before a moment and its next good one after it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact(Word):
    """What the hull was made as: `of` are the words under which its own record says so, joined by “/”. `kind`: of thing
    it names. own: each of the mouldings that a hull was joined of has its own."""

    of: tuple[str, ...]
    kind: str = ""
    own: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure(Word):
    """A figure that was read of the hull, or of its moulding or load, within a range: an event of one of these `kinds`
    says it as a reading of `quantity` (None: of what is named after the colon) in `uom`.

    zone: what is named after the colon is the zone it was read in. each: every such event should have it (every cook
    its peak), so that one without it leaves it open. rare: where none says it, it was not (a stop), unless one of these
    gaps is open.
    """

    kinds: tuple[str, ...]
    uom: str
    quantity: str | None = None
    zone: bool = False
    each: bool = False
    rare: frozenset[str] = NONE


@dataclass(frozen=True, slots=True, kw_only=True)
class Took(Word):
    """The minutes from an event of one kind to one of another, of the cook of its load or moulding."""

    first: str
    last: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Owned(Word):
    """What is registered of the owner of the hull, by the field of trace/genealogy/owners.py."""

    of: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Charged(Word):
    """How many kilograms were charged of a layer; its name stands after the colon."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Certified(Word):
    """A value that the certificate of a lot in the hull says; its name stands after the colon."""


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
    "model": Fact(does=_("are of model"), does_not=_("are not of model"), of=("product",), kind="product"),
    "recipe": Fact(
        does=_("were made by recipe"), does_not=_("were not made by recipe"), of=("product", "recipe"),
        value=_("a model and its revision, as T430/3"),
    ),
    "colour": Fact(does=_("are of colour"), does_not=_("are not of colour"), of=("colour",), value=_("a colour")),
    "cavity": Fact(
        does=_("came out of cavity"), does_not=_("did not come out of cavity"), of=("cavity",), own=True,
        value=_("the cavity's name"),
    ),
    "coat": Fact(
        does=_("were moulded on a release coat of"), does_not=_("were not moulded on a release coat of"), of=("coat",),
        own=True, value=_("the agent and its lot, as TR-4 lot R-12"),
    ),
    "shift": When(
        does=_("left the mould in shift"), does_not=_("did not leave the mould in shift"), value=_("a shift's name"),
    ),
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
    "since-check": Unchecked(
        does=_("were measured, since its last good check, with"),
        does_not=_("were not measured, since its last good check, with"),
        kind="instrument", missing=COOKED | WEIGHED,
        value=_("an instrument; before= says before which moment the check was"),
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
    "region": Owned(
        does=_("are with an owner in"), does_not=_("are not with an owner in"), of="region",
        value=_("a country as GB, or a part of it as GB-SCT, after ISO 3166-2"),
    ),
    "use": Owned(
        does=_("are registered for the use"), does_not=_("are not registered for the use"), of="use",
        value=_("a kind of use, as hire"),
    ),
    "place": Thing(does=_("were stored at"), does_not=_("were not stored at"), kind="place", missing=NONE),
    "peak": Figure(
        does=_("had a peak of the air inside of"), does_not=_("had no peak of the air inside of"),
        value=A_RANGE, kinds=("cook_ended",), quantity="peak internal air", uom="C", each=True,
    ),
    "stage": Figure(
        does=_("had the air inside, at stage"), does_not=_("did not have the air inside, at stage"),
        value=_("stage:drop 1=150..160, a stage and its range"), more=_("stage"), kinds=("cook_stage",), uom="C",
    ),
    "demould-temperature": Figure(
        does=_("had inside, at the end of their cooling,"),
        does_not=_("did not have inside, at the end of their cooling,"),
        value=A_RANGE, kinds=("cooled",), quantity="at demould", uom="C", each=True,
    ),
    "oven-set": Figure(
        does=_("were cooked with the oven set to"), does_not=_("were not cooked with the oven set to"),
        value=A_RANGE, kinds=("cook_started",), quantity="oven set", uom="C", each=True,
    ),
    "arm-speed": Figure(
        does=_("were cooked at an arm speed of"), does_not=_("were not cooked at an arm speed of"),
        value=A_RANGE, kinds=("cook_started",), quantity="arm speed", uom="rpm", each=True,
    ),
    "plate-speed": Figure(
        does=_("were cooked at a plate speed of"), does_not=_("were not cooked at a plate speed of"),
        value=A_RANGE, kinds=("cook_started",), quantity="plate speed", uom="rpm", each=True,
    ),
    "stopped": Figure(
        does=_("were stopped in their cook for"), does_not=_("were not stopped in their cook for"),
        value=A_RANGE, kinds=("cook_stage",), quantity="stopped", uom="min",
        rare=COOKED | {"stop length"},
    ),
    "cook-time": Took(
        does=_("were in the oven for"), does_not=_("were not in the oven for"),
        value=A_RANGE, first="cook_started", last="cook_ended",
    ),
    "cooling-time": Took(
        does=_("were cooled for"), does_not=_("were not cooled for"), value=A_RANGE, first="cook_ended", last="cooled",
    ),
    "charged": Charged(
        does=_("had charged as"), does_not=_("did not have charged as"),
        value=_("charged:skin=12.1..12.3, a layer and its range in kg"), more=_("layer"),
    ),
    "moulded-mass": Figure(
        does=_("weighed, as moulded,"), does_not=_("did not weigh, as moulded,"),
        value=A_RANGE, kinds=("bound",), quantity="as moulded", uom="kg",
    ),
    "hull-mass": Figure(
        does=_("weighed, when inspected,"), does_not=_("did not weigh, when inspected,"),
        value=A_RANGE, kinds=("inspected",), quantity="hull mass", uom="kg",
    ),
    "thickness": Figure(
        does=_("measured, in a zone of their wall,"), does_not=_("did not measure, in a zone of their wall,"),
        value=_("..4.1, or thickness:bow=..4.1 of one zone"), more=_("zone"), kinds=("inspected",),
        quantity="thickness", uom="mm", zone=True,
    ),
    "impact": Figure(
        does=_("had a mean failure height in the impact test of"),
        does_not=_("had no mean failure height in the impact test of"),
        value=A_RANGE, kinds=("impact_ended",), quantity="mean failure height", uom="m",
    ),
    "certificate": Certified(
        does=_("hold a lot whose certificate says"), does_not=_("hold no lot whose certificate says"),
        value=_("certificate:mfi=3.4..3.6, a name and its range"), more=_("value of a certificate"),
    ),
}  # fmt: skip
# Words by which one of these can be asked for as a key; those that ask for a range of a figure.
NAMED = {name: word for name, word in WORDS.items() if isinstance(word, Thing | Fact | Owned) or name == "shift"}
RANGED = {name: word for name, word in WORDS.items() if isinstance(word, Figure | Took | Charged | Certified)}
# What may follow a cause, and which.
FOLLOWS: Mapping[str, tuple[str, ...]] = {"holds": ("in", "from"), "since-check": ("before",)}


def names_more(name: str) -> bool:
    """Whether a word takes a name after a colon: certificate:mfi."""
    word = WORDS[name]
    return isinstance(word, Charged | Certified) or (isinstance(word, Figure) and (word.zone or word.quantity is None))


def needs_more(name: str) -> bool:
    word = WORDS[name]
    return isinstance(word, Charged | Certified) or (isinstance(word, Figure) and word.quantity is None)
