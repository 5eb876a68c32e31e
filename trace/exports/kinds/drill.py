"""The paper of a mock recall: its clock, both directions with every hull and lot, what is reconciled, and the last one."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import printed
from trace.exports.asked import Asked, PaperError, for_reader
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, amount, plant_name, unit_of
from trace.exports.paper import Column, Facts, Paper, Part, Row, Said, Table
from trace.genealogy.answer import Answer, TooWideError, what_was_known
from trace.genealogy.answer import Line as Traveller
from trace.genealogy.drill import Drill, Outcome, Traced, drills, outcome, traced
from trace.sheets.contracts import grouped
from trace.sheets.drills import figures, last_before, same_as_signed, unaccounted
from trace.sheets.facts.known import Known, known_of
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.sheet import caution


@dataclass(frozen=True, slots=True)
class Drilled:
    """A drill as known then, traced as known when it began; `last` is the one signed before it."""

    one: Drill
    last: Drill | None
    traced: Traced
    found: Outcome
    known: Known
    remark: str


def drill_paper(asked: Asked) -> Paper:
    """Raises LookupError where no such drill was begun by then, or nothing can be traced any more."""
    _known, size = what_was_known(asked.as_known_on)
    d = _drilled(asked)
    return Paper(
        kind="drill",
        what=_("Mock recall"),
        title=_("Lot %(lot)s forward, hull %(hull)s back") % {"lot": d.one.lot, "hull": printed(d.one.hull)},
        question=(("drill", d.one.uid),),
        as_known_on=asked.as_known_on,
        records=size,
        gaps=tuple(dict.fromkeys([
            *(f"{which}: {what}" for which, what in unaccounted(d.one, d.found)),
            *(gap.said for answer in (d.traced.forward, d.traced.back) for gap in answer.gaps),
        ])),
        parts=tuple(_parts(d, asked, size)),
        caution=f"{_('A drill: no hull is recalled by it, and no hold is laid.')} {caution()}",
        plant=plant_name(asked.as_known_on),
    )


def _drilled(asked: Asked) -> Drilled:
    one = next(iter(drills(asked.as_known_on, asked.words["drill"].strip().lower() or "-")), None)
    if one is None:
        raise LookupError(_("No such drill was begun."))
    try:
        both = traced(one.lot, one.hull, one.begun)
    except TooWideError as wide:
        raise PaperError(str(wide)) from None
    places = {line.place for answer in (both.forward, both.back) for line in answer.lines}
    known = known_of((), (), places=places, as_known_on=asked.as_known_on, people={one.person, one.signed_by} - {""})
    said = notes([one.remark])
    remark = said.text(one.remark) if asked.reader.words or not one.remark else _("(words kept from this reader)")
    return Drilled(one, last_before(one, drills(asked.as_known_on)), both, outcome(both), for_reader(known, asked.reader), remark)


def _parts(d: Drilled, asked: Asked, size: int) -> Iterator[Part]:
    one = d.one
    yield Facts("", (
        (_("Begun, and as known on"), f"{timezone.localtime(one.begun):%-d %b %Y %H:%M:%S}, {d.known.person(one.person)}"),
        (_("Signed"), f"{timezone.localtime(one.signed):%-d %b %Y %H:%M:%S}, {d.known.person(one.signed_by)}" if one.signed else _("not yet")),
        (_("Took"), _minutes(one.minutes(one.signed)) if one.signed else _("the clock runs")),
        (_("Reconciled"), f"{d.found.said['reconciled']} %" if d.found.said["reconciled"] else _("not known")),
        *(((_("Remark"), d.remark),) if d.remark else ()),
    ))  # fmt: skip
    same = same_as_signed(one, d.found)
    if same is not None:
        yield Said("", (_("Asked again for this paper, the records give the same answer as was signed."),)) if same else Said(
            "", (_("Asked again for this paper, the records give another answer than was signed: look at both columns."),), "stop"
        )
    yield _ways(d)
    yield Table("figures", _("What was found"), _("One figure."), (
        Column("figure", _("Figure"), _("What it is."), wide=4),
        Column("found", _("Found"), _("As the records give it for the moment when the drill began."), wide=1.6),
        Column("signed", _("Signed"), _("As it was signed."), wide=1.6, none=_("not yet")),
        Column("last", _("The last time"), _("As it was signed in the drill before."), wide=1.6, none=_("no drill before")),
    ), tuple((f.name, f.now, f.signed or None, f.last or (None if d.last is None else "")) for f in figures(d.found, one, d.last)))  # fmt: skip
    yield Table("unaccounted", _("Unaccounted for"), _("One hull without a place, or one amount that no record explains."), (
        Column("which", _("Which"), _("The hull or the amount."), wide=2),
        Column("what", _("What"), _("What is missing of it."), wide=4),
    ), tuple(unaccounted(one, d.found)), _("Nothing: every hull has a place or went to somebody, and no amount is missing."))  # fmt: skip
    yield _travellers("hulls", _("Forward: every hull that the lot went into"), _("One hull."), d.traced.forward, "hull", d.known)
    yield _travellers("lots", _("Back: every lot that went into the hull"), _("One lot."), d.traced.back, "lot", d.known)
    yield Facts("", ((_("SHA-256 of all behind it"), d.found.said["digest"]),))
    question = _("mock recall %(drill)s, as known on %(on)s") % {"drill": one.uid, "on": asked.as_known_on.isoformat()}
    yield again(question, grouped(size), asked.reader)


def _minutes(n: int | None) -> str:
    return _("%(n)s minutes") % {"n": n} if n is not None else ""


def _ways(d: Drilled) -> Table:
    def row(way: str, said: str) -> Row:
        at = d.one.marks.get(way)
        return (said, at, d.one.minutes(at))

    return Table("directions", _("Both directions"), _("One direction."), (
        Column("direction", _("Direction"), _("What was traced."), wide=4),
        Column("marked", _("Its answer was in hand"), _("When it was marked."), "time", wide=2, none=_("not marked")),
        Column("minutes", _("Minutes"), _("Whole minutes from the beginning."), "count", "min", wide=1, none=_("not marked")),
    ), (
        row("forward", _("forward: every hull that lot %(lot)s went into") % {"lot": d.one.lot}),
        row("back", _("back: every lot that went into hull %(hull)s") % {"hull": printed(d.one.hull)}),
    ))  # fmt: skip


def _travellers(name: str, title: str, about: str, answer: Answer, kind: str, known: Known) -> Table:
    lines = sorted((line for line in answer.lines if line.node.kind == kind), key=lambda line: (line.node.said, line.node.uid))
    return Table(name, title, about, (
        Column("unit", _("Unit"), _("Its plate or its lot number."), wide=1.8),
        Column("is", _("Of"), _("Its product or material."), wide=1.4),
        Column("verdict", _("In it"), _("Certain or may."), "verdict", wide=0.9),
        Column("least", _("Least"), _("Least, however it mixed."), "number", wide=1),
        Column("most", _("Most"), _("Most; empty: the records set no upper bound."), "number", wide=1, none=_("no bound")),
        Column("unit_of_measure", _("Unit"), _("kg, pieces or m."), wide=0.6),
        Column("place", _("Place"), _("Where it was, or to whom it went."), wide=2.2, none=_("place unknown")),
        Column("uid", _("Identifier"), _("The unit's identifier, which never changes.")),
    ), tuple(_traveller(line, known) for line in lines), _("None."))  # fmt: skip


def _traveller(line: Traveller, known: Known) -> Row:
    about, total = line.node.about, line.share.total
    return (
        line.node.said, str(about.get("product") or about.get("material") or ""), line.verdict,
        amount(total.least, line.uom), amount(total.most, line.uom), unit_of(line.uom),
        known.place(line.place) if line.place else None if line.node.kind == "hull" else "", line.node.uid,
    )  # fmt: skip


KIND = PaperKind(
    name="drill",
    prefix="DR",
    title=gettext_lazy("Mock recall"),
    asks={"drill": gettext_lazy("the identifier of the drill, as its page's address has it")},
    make=drill_paper,
    page="drill",
)
