"""Judges one simple cause for all hulls at once, counting what missing records leave open."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cached_property

from django.utils.translation import gettext as _

from trace.codes import printable
from trace.codes.plant_day import Shift
from trace.codes.region import lies_in, region_code
from trace.genealogy import admitted, reasons
from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import OPEN, Verdict, together
from trace.genealogy.built import Built, Hull, at, microseconds
from trace.genealogy.carried import MOST_RECKONED, Carried, carried, reached_hulls
from trace.genealogy.cause_said import code_said
from trace.genealogy.cause_words import WORDS, Certified, Charged, Fact, Figure, Owned, Thing, Took, Unchecked, Word
from trace.genealogy.causes import (
    STRENGTH,
    Holds,
    Made,
    Simple,
    Supplied,
    With,
    Within,
    all_of,
    some_of,
    written,
)
from trace.genealogy.certificates import certificates, lots_within
from trace.genealogy.charges import layer_masses, verdict_of
from trace.genealogy.checks import FIRST, doubted
from trace.genealogy.day import moment
from trace.genealogy.deeds import ALWAYS, done_with, lots_like, lots_of_supplier
from trace.genealogy.figures import bodies, readings
from trace.genealogy.find import find_unit
from trace.genealogy.flows import flows
from trace.genealogy.graph import DRAWN_KINDS, Node
from trace.genealogy.known_values import must_be_known
from trace.genealogy.missing import (
    BEFORE_RECORDS,
    Gap,
    PlantData,
    Suspect,
    could_fill,
    open_gaps,
    plant_data,
)
from trace.genealogy.owners import owner_now, owners
from trace.genealogy.places import GONE, came_back, places
from trace.genealogy.plant_days import PlantDays, name_at, plant_days
from trace.genealogy.scope import Share
from trace.genealogy.walk import nodes
from trace.genealogy.wide import HowFar, how_far, known_as, shares_of

# The shares of a wide lot are reckoned for so many hulls, those of a page.
MOST_SHOWN = 60
# Of an amount in kg, pieces or metres, so many of the unit in which it is kept.
SMALLEST = {"mg": 1_000_000, "pc": 1, "mm": 1_000}
# A moment that is known but for so much is in the shift in which both of its ends are.
SAME_MOMENT = timedelta(hours=1)
Whys = Callable[[Collection[int]], Mapping[int, str]]
Reckon = Callable[[Collection[int]], Mapping[int, Share]]


def _each(say: Callable[[int], str]) -> Whys:
    return lambda hulls: {hull: say(hull) for hull in hulls}


def _no_more(_hulls: Collection[int]) -> Mapping[int, Share]:
    return {}


@dataclass(frozen=True, slots=True)
class Judged:
    """One simple cause for all hulls: those not named cannot share it.

    `why` says in one line for each of some hulls what the verdict on it rests on. `shares`, in `uom`: how much, of a
    material; of a wide one `reckon` says it for the hulls of a page. `any_much`: the verdicts however little of it is
    in them, where a least amount was asked for.
    """

    verdicts: Mapping[int, Verdict]
    why: Whys
    shares: Mapping[int, Share] = field(default_factory=dict)
    uom: str | None = None
    gaps: tuple[Admitted, ...] = ()
    reckon: Reckon = _no_more
    any_much: Mapping[int, Verdict] | None = None

    def of(self, hull: int) -> Verdict:
        return self.verdicts.get(hull, "cannot")


@dataclass
class Asked:
    """One question: what was known, and what several causes ask alike."""

    known: datetime
    hulls: Mapping[int, Hull]

    def judged(self, cause: Simple) -> Judged:
        must_be_known(cause, self.known)
        match cause:
            case Holds():
                return self._holds(cause)
            case Supplied():
                return self._supplied(cause)
            case Made():
                return self._made(cause)
            case Within(word):
                return self._ranged(cause, WORDS[word])
            case With(word):
                return self._named(cause, WORDS[word])

    def _ranged(self, cause: Within, word: Word) -> Judged:
        if isinstance(word, Certified):
            return self._certified(cause)
        if isinstance(word, Charged):
            return self._charged(cause)
        return self._within(cause, self._took(word) if isinstance(word, Took) else self._read(cause))

    def _named(self, cause: With, word: Word) -> Judged:
        if isinstance(word, Thing):
            return self._with(cause, word)
        if isinstance(word, Fact):
            return self._was_made_as(cause, word)
        if isinstance(word, Owned):
            return self._owned(cause, word)
        return self._in_shift(cause)

    @cached_property
    def gaps(self) -> list[Gap]:
        return open_gaps(self.known)

    @cached_property
    def gap_units(self) -> Mapping[int, Node]:
        return nodes({gap.unit for gap in self.gaps}, self.known)

    @cached_property
    def days(self) -> PlantDays:
        return plant_days(self.known)

    def _holds(self, cause: Holds) -> Judged:
        root = find_unit(cause.code, self.known)
        node, far = nodes([root], self.known)[root], self._far([root])
        suspect = _suspect(node, far)
        filled = self._filled([suspect])
        if filled and node.kind == "charge" and flows([root], self.known)[root].shared_by:
            filled = []  # it is known where all of this charge went
        found = carried([root], filled, self.known, far=far)
        verdicts, shares, name = found.verdicts, found.shares, code_said(cause.code)
        if cause.part:
            name = _("%(code)s in its %(part)s") % {"code": name, "part": printable(cause.part)}
            verdicts, shares = self._in_part(cause.part, found)
        any_much = verdicts if cause.least is not None else None
        if cause.least is not None:
            verdicts = self._at_least(cause.least, found, verdicts, shares)
        words = self._of_gaps(filled, found)

        def reckon(hulls: Collection[int]) -> Mapping[int, Share]:
            few = found.wide and not cause.part and len(hulls) <= MOST_SHOWN
            told = shares_of(suspect, hulls, far, self.known) if few else None
            return told[0] if told else {}

        why = _each(lambda n: reasons.how_much(verdicts.get(n, "cannot"), shares.get(n), found.uom, name))
        return Judged(verdicts, why, shares, found.uom, words, reckon, any_much)

    def _at_least(
        self, least: Decimal, found: Carried, verdicts: Mapping[int, Verdict], shares: Mapping[int, Share]
    ) -> Mapping[int, Verdict]:
        """Certain are those whose least is at or above it; where nobody has reckoned how much, none is."""
        if found.wide or not shares:
            return dict.fromkeys(verdicts, "may")
        wanted = least * SMALLEST.get(found.uom or "", 1)
        told: dict[int, Verdict] = {}
        for hull, share in shares.items():
            if share.total.least >= wanted:
                told[hull] = verdicts[hull]
            elif share.total.most is None or share.total.most >= wanted:
                told[hull] = "may"
        return told

    def _far(self, roots: Collection[int]) -> HowFar:
        """How far these went. By which names what was made of them is known, only a gap asks."""
        return how_far(roots, self.known) if self.gaps else how_far(roots, self.known, MOST_RECKONED)

    def _in_part(self, part: str, found: Carried) -> tuple[Mapping[int, Verdict], Mapping[int, Share]]:
        """Verdicts and shares in one layer, position or zone; nobody has reckoned that of what went too far."""
        if found.wide:
            return dict.fromkeys(found.verdicts, "may"), {}
        told = nodes(found.shares, self.known)
        plant = plant_data(self.known, told.values())
        shares = {hull: _in_part(share, part, told[hull], plant) for hull, share in found.shares.items()}
        return {hull: share.verdict for hull, share in shares.items()}, shares

    def _supplied(self, cause: Supplied) -> Judged:
        lots = lots_of_supplier(cause.supplier, self.known)
        # What was there before records began may be of any supplier's lot that was never recorded.
        old = [gap for gap in self.gaps if gap.what == BEFORE_RECORDS]
        return self._of_lots(lots, old, _("a lot of %(supplier)s") % {"supplier": printable(cause.supplier)})

    def _of_lots(self, lots: Collection[int], old: Collection[Gap], name: str) -> Judged:
        """Hulls that hold something of one of these lots; `old` gaps may be of lots like these whatever they are."""
        far = self._far(lots)
        suspects = [_suspect(node, far) for node in nodes(lots, self.known).values()]
        filled = [*old, *(gap for gap in self._filled(suspects) if gap not in old)]
        found = carried(lots, filled, self.known, far=far)

        why = _each(lambda hull: reasons.held(found.verdicts.get(hull, "cannot"), name))
        words = tuple(admitted.gap(gap, self.gap_units[gap.unit], fills=True) for gap in filled)
        return Judged(found.verdicts, why, gaps=words + _too_wide(found))

    def _certified(self, cause: Within) -> Judged:
        """A lot that should have such a value (one of its material has) and has none on record may lie in the range."""
        read = certificates(cause.of, self.known)
        inside = lots_within(cause, read)
        name = _("a lot whose certificate says %(name)s %(range)s") % {
            "name": printable(cause.of), "range": written(cause)[0].partition("=")[2],
        }  # fmt: skip
        old = [gap for gap in self.gaps if gap.what == BEFORE_RECORDS]
        sure = self._of_lots(inside, old, name)
        unsure = carried(lots_like(read, self.known) - read.keys(), (), self.known)
        verdicts: dict[int, Verdict] = dict.fromkeys(unsure.verdicts, "may")
        verdicts.update(sure.verdicts)
        unsaid = _("a lot in it has no %(name)s on a certificate") % {"name": printable(cause.of)}

        def why(hulls: Collection[int]) -> Mapping[int, str]:
            left_open = unsure.verdicts.keys() - sure.verdicts.keys()
            return {hull: unsaid if hull in left_open else said for hull, said in sure.why(hulls).items()}

        return Judged(verdicts, why, gaps=sure.gaps + _too_wide(unsure))

    @cached_property
    def bodies(self) -> Mapping[int, list[int]]:
        return bodies(self.hulls, self.known)

    def _read(self, cause: Within) -> Mapping[int, list[list[Decimal]]]:
        """By unit, the values of each event that should say such a figure; of a rare one only where it does."""
        word = WORDS[cause.word]
        assert isinstance(word, Figure)  # noqa: S101 - cause_words.RANGED has no others
        quantity, zone = word.quantity or cause.of, cause.of if word.zone else ""
        found: dict[int, list[list[Decimal]]] = {}
        for one in readings(word.kinds, self.known):
            values = [
                value for what, where, uom, value in one.values
                if what == quantity and uom == word.uom and zone in ("", where)
            ]  # fmt: skip
            if values or word.each:
                found.setdefault(one.unit, []).append(values)
        return found

    def _took(self, word: Took) -> Mapping[int, list[list[Decimal]]]:
        """By unit, the minutes from each event of the first kind to the next of the last; none where one is missing."""
        begun: dict[int, datetime] = {}
        found: dict[int, list[list[Decimal]]] = {}
        for one in readings((word.first, word.last), self.known):
            if one.kind == word.first:
                begun[one.unit] = one.happened
                found.setdefault(one.unit, []).append([])
            elif one.unit in begun:
                found[one.unit][-1].append(_minutes(begun.pop(one.unit), one.happened))
            else:
                found.setdefault(one.unit, []).append([])
        return found

    def _within(self, cause: Within, read: Mapping[int, list[list[Decimal]]]) -> Judged:
        word = WORDS[cause.word]
        rare = word.rare if isinstance(word, Figure) else frozenset()
        open_ = {gap.unit for gap in self.gaps if gap.what in rare}
        records = {
            hull: [values for unit in units for values in read.get(unit, ())] for hull, units in self.bodies.items()
        }

        uom = word.uom if isinstance(word, Figure) else "min"
        verdicts = {
            hull: _of_records(cause, said, complete=open_.isdisjoint(self.bodies[hull]) if rare else _complete(said))
            for hull, said in records.items()
        }
        return Judged(verdicts, _each(lambda hull: reasons.figures(_texts(records[hull]), uom)))

    def _charged(self, cause: Within) -> Judged:
        units = {unit for own in self.bodies.values() for unit in own}
        read = layer_masses(cause.of, units, self.gaps, self.known)
        masses = {hull: [read[unit] for unit in own if unit in read] for hull, own in self.bodies.items()}
        verdicts = {hull: verdict_of(cause, found) for hull, found in masses.items()}
        return Judged(verdicts, _each(lambda hull: reasons.charged(cause.of, masses[hull])))

    def _filled(self, suspects: Collection[Suspect]) -> list[Gap]:
        """The gaps that one of the suspects could fill."""
        materials = {name for suspect in suspects for name in suspect.materials or ()}
        plant = plant_data(self.known, self.gap_units.values(), materials)
        return [
            gap for gap in self.gaps if any(could_fill(s, gap, self.gap_units[gap.unit], plant) for s in suspects)
        ]

    def _of_gaps(self, filled: Collection[Gap], found: Carried) -> tuple[Admitted, ...]:
        """The gaps that it could fill, and those of the units that hold some of it."""
        words = [admitted.gap(gap, self.gap_units[gap.unit], fills=True) for gap in filled]
        told = set(filled)
        words += [
            admitted.gap(gap, self.gap_units[gap.unit])
            for gap in self.gaps
            if gap.unit in found.units and gap not in told
        ]
        return (*words, *found.words, *_too_wide(found))

    def _with(self, cause: With, thing: Thing) -> Judged:
        during = ALWAYS
        if isinstance(thing, Unchecked):
            during = doubted(cause.key, moment(cause.before) if cause.before else self.known, self.known)
        done = done_with(thing, cause.key, self.known, during)
        # What was ground was a hull by itself: its acts are not this one's.
        part = carried(done.contents, (), self.known, through_regrind=False)
        lacking = self._lacking(thing)
        verdicts: dict[int, Verdict] = dict.fromkeys(
            reached_hulls({gap.unit for gap in lacking}, self.known, through_regrind=False), "may"
        )
        for hull, verdict in part.verdicts.items():
            if STRENGTH[verdict] > STRENGTH[verdicts.get(hull, "cannot")]:
                verdicts[hull] = verdict
        verdicts |= dict.fromkeys(done.hulls, "certain")

        def why(hulls: Collection[int]) -> Mapping[int, str]:
            return reasons.of_deeds(cause, thing, verdicts, hulls, self.known, during)

        words = tuple(admitted.gap(gap, self.gap_units[gap.unit]) for gap in lacking)
        if isinstance(thing, Unchecked) and during.since == FIRST:
            words = (admitted.unchecked(printable(cause.key)), *words)
        return Judged(verdicts, why, gaps=words + _too_wide(part))

    def _lacking(self, thing: Thing) -> list[Gap]:
        """The gaps of records that could name the thing."""
        wanted = thing.missing
        if wanted is None:
            return self.gaps
        # What powder is made of was neither cooked nor weighed for a hull.
        return [g for g in self.gaps if g.what in wanted and self.gap_units[g.unit].kind not in DRAWN_KINDS]

    def _was_made_as(self, cause: With, fact: Fact) -> Judged:
        """What a hull was made as says the hull itself, also one made before records began."""
        wanted = cause.key.split("/", len(fact.of) - 1)
        said = {hull: [str(made.about.get(name) or "") for name in fact.of] for hull, made in self.hulls.items()}
        verdicts = {
            hull: _as_made(fact, wanted, values, joined=self.hulls[hull].joined) for hull, values in said.items()
        }

        def say(hull: int) -> str:
            value = "/".join(value or _("not known") for value in said[hull])
            return _("its %(word)s is %(value)s") % {"word": cause.word.replace("-", " "), "value": value}

        return Judged(verdicts, _each(say))

    def _owned(self, cause: With, word: Owned) -> Judged:
        """By the owner who has it now, as far as one is registered; while it is in the plant it has none."""
        key = region_code(cause.key) or cause.key if word.of == "region" else cause.key
        told = {hull: owner_now(said) for hull, said in owners(None, self.known).items()}
        gone = self._gone()
        read = {hull: str(getattr(told[hull], word.of)) if told.get(hull) else None for hull in self.hulls}
        verdicts = {hull: _of_owner(word, key, said, gone=hull in gone) for hull, said in read.items()}

        def say(hull: int) -> str:
            if read[hull] is None:
                return _("no owner is registered") if hull in gone else _("it has not left the plant")
            return _("its owner’s %(word)s is %(value)s") % {
                "word": cause.word, "value": read[hull] or _("not known"),
            }  # fmt: skip

        return Judged(verdicts, _each(say))

    def _gone(self) -> frozenset[int]:
        """The hulls that are not in the plant or have been out of it, or of which nobody recorded where they are."""
        at = places(self.hulls, self.known)
        away = {hull for hull in self.hulls if (at.get(hull) or GONE).startswith(GONE)}
        return frozenset(away | came_back(self.hulls, self.known).keys())

    def _in_shift(self, cause: With) -> Judged:
        """The shift in which a hull left its mould, by the shifts that were set then."""
        moments = [hull.last for hull in self.hulls.values() if hull.first == hull.last]
        shifts = self.days.shifts(at(min(moments)), at(max(moments))) if moments else []
        starts = [shift.begins for shift in shifts]
        verdicts = {hull: _shift_of(cause.key, made.built, shifts, starts) for hull, made in self.hulls.items()}
        return Judged(verdicts, _each(lambda hull: reasons.when_made(self.hulls[hull].built)))

    def _made(self, cause: Made) -> Judged:
        first, over = self.days.span(cause.first, cause.last)
        span = microseconds(first) if first else None, microseconds(over) if over else None
        verdicts = {hull: _within(made, *span) for hull, made in self.hulls.items()}

        return Judged(verdicts, _each(lambda hull: reasons.when_made(self.hulls[hull].built)))


def _of_records(cause: Within, records: Collection[Collection[Decimal]], *, complete: bool) -> Verdict:
    """Of a hull by what was read of it; where a record lacks its figure, that may be in the range."""
    if any(cause.takes(value) for values in records for value in values):
        return "certain"
    return "cannot" if complete else "may"


def _complete(records: Collection[Collection[Decimal]]) -> bool:
    return bool(records) and all(records)


def _texts(records: Collection[Collection[Decimal]]) -> list[str]:
    return [f"{value:f}" for values in records for value in values]


def _as_made(fact: Fact, wanted: Sequence[str], values: Sequence[str], *, joined: bool) -> Verdict:
    verdict = all_of(
        "may" if not value else "certain" if value == one else "cannot"
        for value, one in zip(values, wanted, strict=True)
    )
    # One that was joined says so of the first of its mouldings alone.
    return some_of(("may", verdict)) if fact.own and joined else verdict


def _of_owner(word: Owned, wanted: str, said: str | None, *, gone: bool) -> Verdict:
    if said is None:
        return "may" if gone else "cannot"
    inside = lies_in(said, wanted) if word.of == "region" else (said == wanted if said else None)
    return "may" if inside is None else "certain" if inside else "cannot"


def _shift_of(name: str, built: Built, shifts: Sequence[Shift], starts: Sequence[datetime]) -> Verdict:
    if built.last - built.first > SAME_MOMENT:
        return "may"
    names = {name_at(shifts, starts, when) for when in {built.first, built.last}}
    return "cannot" if name not in names else "certain" if len(names) == 1 else "may"


def _minutes(first: datetime, last: datetime) -> Decimal:
    """Whole seconds as minutes, to a tenth."""
    return (Decimal(int((last - first).total_seconds())) / 60).quantize(Decimal("0.1"))


def _suspect(node: Node, far: HowFar) -> Suspect:
    # Where not all that was made of it was looked at, it may be known as anything.
    return Suspect(node, None) if far.more else known_as(node, far)


def _too_wide(found: Carried) -> tuple[Admitted, ...]:
    return (admitted.wide(),) if found.wide else ()


def _in_part(share: Share, part: str, hull: Node, plant: PlantData) -> Share:
    """The share in one layer, position or zone. What is under no name that the hull's recipe knows may be there too."""
    recipe = plant.recipe(hull) or {}
    names = {layer["name"] for layer in recipe.get("layers", [])}
    names |= {*recipe.get("inserts", {}), *recipe.get("graphics", {})}
    here = [bounds for key, bounds in share.layers.items() if key == part]
    unnamed = [bounds for key, bounds in share.layers.items() if key not in names and key != part]
    doubtful = OPEN if any(bounds.verdict != "cannot" for bounds in unnamed) else None
    if here and doubtful is None:
        return Share({part: here[0]}, here[0])
    found = together([*here, *([doubtful] if doubtful else [])])
    return Share({part: found}, found)


def _within(hull: Hull, first: int | None, over: int | None) -> Verdict:
    """Whether it was made at `first` or later, and before the moment `over`."""
    if (first is not None and hull.last < first) or (over is not None and hull.first >= over):
        return "cannot"
    inside = (first is None or hull.first >= first) and (over is None or hull.last < over)
    return "certain" if inside else "may"
