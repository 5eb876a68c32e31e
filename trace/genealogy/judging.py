"""Judges one simple cause for all hulls at once, counting what missing records leave open."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property

from django.utils.translation import gettext as _

from trace.codes import printable, printed
from trace.genealogy import admitted, reasons
from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import OPEN, Verdict, together
from trace.genealogy.built import Built, Hull
from trace.genealogy.carried import MOST_RECKONED, Carried, carried, reached_hulls
from trace.genealogy.cause_words import WORDS, Fact, Thing
from trace.genealogy.causes import STRENGTH, CauseError, Holds, Made, Simple, Supplied, With
from trace.genealogy.deeds import done_with, is_there, lots_of_supplier
from trace.genealogy.find import find_unit
from trace.genealogy.flows import flows
from trace.genealogy.graph import DRAWN_KINDS, Node
from trace.genealogy.missing import (
    BEFORE_RECORDS,
    Gap,
    PlantData,
    Suspect,
    could_fill,
    open_gaps,
    plant_data,
)
from trace.genealogy.plant_days import PlantDays, plant_days
from trace.genealogy.scope import Share
from trace.genealogy.walk import nodes
from trace.genealogy.wide import HowFar, how_far, known_as, shares_of

# The shares of a wide lot are reckoned for so many hulls, those of a page.
MOST_SHOWN = 60
Whys = Callable[[Collection[int]], Mapping[int, str]]
Reckon = Callable[[Collection[int]], Mapping[int, Share]]


def _no_more(_hulls: Collection[int]) -> Mapping[int, Share]:
    return {}


@dataclass(frozen=True, slots=True)
class Judged:
    """One simple cause for all hulls: those not named cannot share it.

    `why` says in one line for each of some hulls what the verdict on it rests on. `shares`, in `uom`: how much, of a
    material; of a wide one `reckon` says it for the hulls of a page.
    """

    verdicts: Mapping[int, Verdict]
    why: Whys
    shares: Mapping[int, Share] = field(default_factory=dict)
    uom: str | None = None
    gaps: tuple[Admitted, ...] = ()
    reckon: Reckon = _no_more

    def of(self, hull: int) -> Verdict:
        return self.verdicts.get(hull, "cannot")


@dataclass
class Asked:
    """One question: what was known, and what several causes ask alike."""

    known: datetime
    hulls: Mapping[int, Hull]

    def judged(self, cause: Simple) -> Judged:
        match cause:
            case Holds():
                return self._holds(cause)
            case Supplied():
                return self._supplied(cause)
            case Made():
                return self._made(cause)
            case With(word, key):
                kind = WORDS[word]
                if isinstance(kind, Thing):
                    return self._with(cause, kind)
                assert isinstance(kind, Fact)  # noqa: S101 - cause_words.NAMED has no others
                self._must_be_there(kind.kind, word, key)
                return self._was_made_as(cause, kind)

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
        found = carried([root], filled, self.known)
        verdicts, shares, name = found.verdicts, found.shares, printed(cause.code)
        if cause.part:
            name = _("%(code)s in its %(part)s") % {"code": name, "part": printable(cause.part)}
            verdicts, shares = self._in_part(cause.part, found)
        words = self._of_gaps(filled, found)

        def reckon(hulls: Collection[int]) -> Mapping[int, Share]:
            few = found.wide and not cause.part and len(hulls) <= MOST_SHOWN
            told = shares_of(suspect, hulls, far, self.known) if few else None
            return told[0] if told else {}

        def why(hulls: Collection[int]) -> Mapping[int, str]:
            return {
                hull: reasons.how_much(verdicts.get(hull, "cannot"), shares.get(hull), found.uom, name)
                for hull in hulls
            }

        return Judged(verdicts, why, shares, found.uom, words, reckon)

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
        if not lots:
            self._must_be_there("supplier", "supplier", cause.supplier)
        far = self._far(lots)
        suspects = [_suspect(node, far) for node in nodes(lots, self.known).values()]
        # What was there before records began may be of any supplier's lot that was never recorded.
        old = [gap for gap in self.gaps if gap.what == BEFORE_RECORDS]
        filled = [*old, *(gap for gap in self._filled(suspects) if gap.what != BEFORE_RECORDS)]
        found = carried(lots, filled, self.known)
        name = _("a lot of %(supplier)s") % {"supplier": printable(cause.supplier)}

        def why(hulls: Collection[int]) -> Mapping[int, str]:
            return {hull: reasons.held(found.verdicts.get(hull, "cannot"), name) for hull in hulls}

        words = tuple(admitted.gap(gap, self.gap_units[gap.unit], fills=True) for gap in filled)
        return Judged(found.verdicts, why, gaps=words + _too_wide(found))

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

    def _must_be_there(self, kind: str, word: str, key: str) -> None:
        if kind and not is_there(kind, key):
            raise CauseError(
                _("No %(word)s %(key)s is known.") % {"word": word.replace("-", " "), "key": printable(key)}
            )

    def _with(self, cause: With, thing: Thing) -> Judged:
        self._must_be_there(thing.kind, cause.word, cause.key)
        done = done_with(thing, cause.key, self.known)
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
            return reasons.of_deeds(cause.word, thing, cause.key, verdicts, hulls, self.known)

        words = tuple(admitted.gap(gap, self.gap_units[gap.unit]) for gap in lacking)
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
        said = {hull: str(made.about.get(fact.of) or "") for hull, made in self.hulls.items()}
        verdicts: dict[int, Verdict] = {
            hull: "may" if not value else "certain" for hull, value in said.items() if value in ("", cause.key)
        }

        def why(hulls: Collection[int]) -> Mapping[int, str]:
            names = {"word": cause.word.replace("-", " ")}
            return {
                hull: _("its %(word)s is %(value)s") % {**names, "value": said[hull] or _("not known")}
                for hull in hulls
            }

        return Judged(verdicts, why)

    def _made(self, cause: Made) -> Judged:
        first, over = self.days.span(cause.first, cause.last)
        verdicts = {hull: _within(made.built, first, over) for hull, made in self.hulls.items()}

        def why(hulls: Collection[int]) -> Mapping[int, str]:
            return {hull: reasons.when_made(self.hulls[hull].built) for hull in hulls}

        return Judged(verdicts, why)


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


def _within(built: Built, first: datetime | None, over: datetime | None) -> Verdict:
    """Whether it was made at `first` or later, and before the moment `over`."""
    if (first and built.last < first) or (over and built.first >= over):
        return "cannot"
    inside = (first is None or built.first >= first) and (over is None or built.last < over)
    return "certain" if inside else "may"
