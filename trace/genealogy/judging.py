"""Judges one simple cause for all hulls at once, counting what missing records leave open."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime, time

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes import printable, printed
from trace.genealogy import admitted, reasons
from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import OPEN, Verdict, together
from trace.genealogy.answer import of_unit
from trace.genealogy.built import Built
from trace.genealogy.causes import (
    WITH,
    CauseError,
    Holds,
    Made,
    Simple,
    Supplied,
    With,
    some_of,
)
from trace.genealogy.deeds import deeds_with, is_there, lots_of_supplier
from trace.genealogy.find import find_unit
from trace.genealogy.flows import flows
from trace.genealogy.graph import DRAWN_KINDS, Graph, Node
from trace.genealogy.missing import (
    BEFORE_RECORDS,
    Gap,
    PlantData,
    as_doubts,
    could_fill,
    open_gaps,
    plant_data,
    suspect_of,
)
from trace.genealogy.scope import Share, prepare, sweep, unit_of_measure
from trace.genealogy.walk import nodes, walk

# The records that would have named such a thing, by the gaps they leave (trace/genealogy/missing.py). None: any.
COOKED: frozenset[str] = frozenset({"cycle", BEFORE_RECORDS})
WEIGHED: frozenset[str] = frozenset({"layer", "charge", "source", "weighing", BEFORE_RECORDS})
NAMED_IN: Mapping[str, frozenset[str] | None] = {
    "arm": COOKED, "oven": COOKED, "machine": COOKED, "logger": COOKED, "scale": WEIGHED,
    "instrument": COOKED | WEIGHED, "mould": frozenset({BEFORE_RECORDS}),
    "works-order": frozenset({BEFORE_RECORDS}), "person": None, "consignee": frozenset({"consignee"}),
    "sales-order": frozenset({"consignee"}),
    "model": frozenset(), "place": frozenset(),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Judged:
    """One simple cause for all hulls: those not named cannot share it. `shares`, in `uom`: how much, of a material.

    `why` says in one line what the verdict on a hull rests on.
    """

    verdicts: Mapping[int, Verdict]
    why: Callable[[int], str]
    shares: Mapping[int, Share] = field(default_factory=dict)
    uom: str | None = None
    gaps: tuple[Admitted, ...] = ()

    def of(self, hull: int) -> Verdict:
        return self.verdicts.get(hull, "cannot")


@dataclass
class Asked:
    """One question: what was known, and what several causes ask alike."""

    known: datetime
    size: int
    hulls: Mapping[int, Node]
    built: Mapping[int, Built]
    all_gaps: list[Gap] | None = None

    def judged(self, cause: Simple) -> Judged:
        match cause:
            case Holds():
                return self._holds(cause)
            case Supplied():
                return self._supplied(cause)
            case With():
                return self._with(cause)
            case Made():
                return self._made(cause)

    def gaps(self) -> list[Gap]:
        if self.all_gaps is None:
            self.all_gaps = open_gaps(self.known)
        return self.all_gaps

    def _holds(self, cause: Holds) -> Judged:
        answer = of_unit(find_unit(cause.code, self.known), cause.code, "forward", self.known, self.size)
        uom = next((line.uom for line in answer.lines), None)
        shares = {line.node.id: line.share for line in answer.lines if line.node.id in self.hulls}
        if cause.part:
            plant = plant_data(self.known, [self.hulls[hull] for hull in shares])
            shares = {hull: _in_part(share, cause.part, self.hulls[hull], plant) for hull, share in shares.items()}
        name = _("%(code)s in its %(part)s") if cause.part else "%(code)s"
        name %= {"code": printed(cause.code), "part": printable(cause.part)}
        return Judged(
            _verdicts(shares), lambda hull: reasons.how_much(shares.get(hull), uom, name), shares, uom, answer.gaps
        )

    def _supplied(self, cause: Supplied) -> Judged:
        lots = lots_of_supplier(cause.supplier, self.known)
        if not lots and not is_there("supplier", cause.supplier):
            raise CauseError(_("No supplier %(name)s is known.") % {"name": printable(cause.supplier)})
        graph = walk(sorted({*lots, *(gap.unit for gap in self.gaps())}), "forward", self.known)
        plant = plant_data(self.known, [graph.nodes[gap.unit] for gap in self.gaps()], _materials(graph))
        suspects = [suspect_of(graph.nodes[lot], graph) for lot in lots]
        # What was there before records began may be of any supplier's lot that was never recorded.
        filled = [
            g for g in self.gaps()
            if g.what == BEFORE_RECORDS or any(could_fill(s, g, graph.nodes[g.unit], plant) for s in suspects)
        ]  # fmt: skip
        shares = self._passed_on(graph, lots, filled)
        name = _("a lot of %(supplier)s") % {"supplier": printable(cause.supplier)}
        words = tuple(admitted.gap(g, graph.nodes[g.unit], fills=True) for g in filled)
        return Judged(shares, lambda hull: reasons.held(shares.get(hull, "cannot"), name), gaps=words)

    def _with(self, cause: With) -> Judged:
        kind, roles = WITH[cause.word]
        if not is_there(kind, cause.key):
            raise CauseError(
                _("No %(word)s %(key)s is known.") % {"word": cause.word, "key": printable(cause.key)}
            )
        if kind == "product":
            return self._model(cause.key)
        deeds = deeds_with(kind, cause.key, roles, self.known)
        wanted = NAMED_IN[cause.word]
        lacking = [gap for gap in self.gaps() if wanted is None or gap.what in wanted]
        if wanted is not None:
            # What powder is made of was neither cooked nor weighed for a hull.
            kinds = {unit: node.kind for unit, node in nodes({gap.unit for gap in lacking}, self.known).items()}
            lacking = [gap for gap in lacking if kinds[gap.unit] not in DRAWN_KINDS]
        done = {deed.unit for deed in deeds}
        graph = walk(sorted(done | {gap.unit for gap in lacking}), "forward", self.known)
        verdicts = self._passed_on(graph, done, lacking)
        words = tuple(admitted.gap(gap, graph.nodes[gap.unit]) for gap in lacking)
        return Judged(verdicts, reasons.OfDeeds(cause, verdicts, deeds, self.known).why, gaps=words)

    def _model(self, key: str) -> Judged:
        """What a hull is a model of says the hull itself, also one made before records began."""
        models = {hull: str(node.about.get("product") or "") for hull, node in self.hulls.items()}
        verdicts: dict[int, Verdict] = {
            hull: "may" if not model else "certain" for hull, model in models.items() if model in ("", key)
        }
        return Judged(verdicts, lambda hull: _("its model is %(model)s") % {"model": models[hull] or _("not known")})

    def _made(self, cause: Made) -> Judged:
        first = timezone.make_aware(datetime.combine(cause.first, time.min)) if cause.first else None
        last = timezone.make_aware(datetime.combine(cause.last, time.max)) if cause.last else None
        verdicts = {hull: _within(built, first, last) for hull, built in self.built.items()}
        return Judged(verdicts, lambda hull: reasons.when_made(self.built[hull]))

    def _passed_on(self, graph: Graph, units: Collection[int], gaps: Collection[Gap]) -> dict[int, Verdict]:
        """Which hulls hold something of these units, or may, counting the gaps: units of different measure apart."""
        plan = prepare(graph, flows(graph.nodes, self.known))
        by_measure: dict[str | None, list[int]] = {}
        for unit in units:
            if unit in graph.nodes:
                by_measure.setdefault(unit_of_measure(plan, unit), []).append(unit)
        doubts = as_doubts(gaps)
        found: dict[int, Verdict] = {}
        for group in by_measure.values() or [[]]:
            for hull, share in sweep(plan, group, doubts=doubts, only=self.hulls).shares.items():
                found[hull] = some_of((found.get(hull, "cannot"), share.verdict))
        return found


def _verdicts(shares: Mapping[int, Share]) -> dict[int, Verdict]:
    return {hull: share.verdict for hull, share in shares.items()}


def _materials(graph: Graph) -> set[str]:
    return {str(node.about["material"]) for node in graph.nodes.values() if node.about.get("material")}


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


def _within(built: Built, first: datetime | None, last: datetime | None) -> Verdict:
    if (first and built.last < first) or (last and built.first > last):
        return "cannot"
    inside = (first is None or built.first >= first) and (last is None or built.last <= last)
    return "certain" if inside else "may"


