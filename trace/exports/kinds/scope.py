"""The paper of a scope: which hulls share a cause, each certain or may, where each is and why, whole."""

from collections import Counter
from collections.abc import Iterator
from functools import partial
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.exports.asked import Asked, PaperError, Reader, for_reader
from trace.exports.epcis.events import hull_events
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, amount, plant_name, unit_of
from trace.exports.paper import Column, Facts, Paper, Part, Row, Streamed, Table
from trace.genealogy.cause_said import said_of
from trace.genealogy.causes import CauseError, read_cause, written
from trace.genealogy.sharing import Line, Shared, shared_by
from trace.sheets.contracts import grouped
from trace.sheets.facts.known import Known, known_of
from trace.sheets.hulls.gathered import gather
from trace.sheets.hulls.sheet import caution


def scope_paper(asked: Asked) -> Paper:
    """`q`: the words of the cause, one a line. Raises PaperError for what is no cause, LookupError for what is not known."""
    try:
        answer = shared_by(read_cause(asked.words["q"].split("\n")), asked.as_known_on)
    except CauseError as error:
        raise PaperError(str(error)) from None
    answer.look_up_places(answer.lines)
    known = known_of((), (), places={line.place for line in answer.lines}, as_known_on=asked.as_known_on)
    known = for_reader(known, asked.reader)
    words = written(answer.cause)
    return Paper(
        kind="scope",
        what=_("Scope report"),
        title=_("Hulls that %(cause)s") % {"cause": said_of(answer.cause)},
        question=tuple(("q", word) for word in words),
        as_known_on=asked.as_known_on,
        records=answer.tree_size,
        gaps=tuple(dict.fromkeys(gap.said for gap in answer.gaps)),
        parts=tuple(_parts(answer, known, asked.reader)),
        caution=caution(),
        plant=plant_name(asked.as_known_on),
        events=partial(_events, answer),
    )


def _parts(answer: Shared, known: Known, reader: Reader) -> Iterator[Part]:
    sharing = [line for line in answer.lines if line.verdict != "cannot"]
    yield Facts("", (
        (_("Hulls that share it"), _("%(certain)s certain, %(may)s may") % {
            "certain": grouped(answer.count("certain")), "may": grouped(answer.count("may")),
        }),
        (_("Hulls that cannot"), _("%(cannot)s of %(all)s known then") % {
            "cannot": grouped(answer.count("cannot")), "all": grouped(len(answer.lines)),
        }),
    ))  # fmt: skip
    yield _parts_of_question(answer)
    yield _places(sharing, known)
    others = [line for line in answer.lines if line.verdict == "cannot"]
    yield _hulls("hulls", _("The hulls that share it or may, whole"), answer, sharing, known, on_paper=True)
    yield _amounts(answer, sharing)
    yield _hulls("others", _("The hulls that cannot"), answer, others, known, on_paper=False)
    question = _("scope %(cause)s, as known on %(on)s") % {
        "cause": " ".join(written(answer.cause)), "on": answer.as_known_on.isoformat(),
    }  # fmt: skip
    yield again(question, grouped(answer.tree_size), reader)


def _events(answer: Shared) -> Iterator[dict[str, Any]]:
    """The events of each hull that shares the cause or may, hull by hull; one of several hulls, such as a receipt, once."""
    told: set[tuple[str, bool]] = set()
    for line in answer.lines:
        if line.verdict != "cannot":
            for event in hull_events(gather(line.node.uid, answer.as_known_on)):
                name = str(event["eventID"]), "errorDeclaration" in event
                if name not in told:
                    told.add(name)
                    yield event


def _parts_of_question(answer: Shared) -> Table:
    return Table("parts", _("Each part of the question by itself"), _("One simple cause of the question."), (
        Column("cause", _("Cause"), _("The cause, in the words by which it is asked."), wide=4),
        Column("certain", _("certain"), _("Hulls that share it."), "count", wide=1),
        Column("may", _("may"), _("Hulls that may."), "count", wide=1),
        Column("cannot", _("cannot"), _("Hulls that cannot."), "count", wide=1),
    ), tuple(
        (" ".join(written(one)), counts.get("certain", 0), counts.get("may", 0), counts.get("cannot", 0))
        for one, counts in answer.parts.items()
    ))  # fmt: skip


def _places(lines: list[Line], known: Known) -> Table:
    counted: dict[str, Counter[str]] = {}
    for line in lines:
        counted.setdefault(_place(line, known), Counter())[line.verdict] += 1
    return Table("places", _("Where they are"), _("One place with how many of them are there."), (
        Column("place", _("Place"), _("The place, or to whom they went."), wide=4),
        Column("certain", _("certain"), _("Hulls that share the cause."), "count", wide=1),
        Column("may", _("may"), _("Hulls that may."), "count", wide=1),
    ), tuple((place, n["certain"], n["may"]) for place, n in sorted(counted.items())), _("None."))  # fmt: skip


def _place(line: Line, known: Known) -> str:
    return known.place(line.place) if line.place else _("place unknown")


def _hulls(name: str, title: str, answer: Shared, lines: list[Line], known: Known, *, on_paper: bool) -> Table:
    wide = 1.0 if on_paper else 0.0
    return Table(name, title, _("One hull."), (
        Column("hull", _("Hull"), _("The number on its plate, or what it goes by."), wide=1.7 * wide),
        Column("verdict", _("Shares it"), _("Whether it shares the cause: certain, may or cannot."), "verdict", wide=0.9 * wide),
        Column("model", _("Model"), _("The product."), wide=0.9 * wide),
        Column("place", _("Place"), _("Where it was."), wide=1.8 * wide),
        Column("region", _("Owner’s region"), _("Where its owner is registered, after ISO 3166-2; empty: unknown."), wide=0.9 * wide),
        Column("why", _("Because"), _("What the verdict rests on, in one line."), wide=3.4 * wide),
        Column("made", _("Made"), _("When it left the mould, at the latest."), "time", wide=1.2 * wide),
        Column("made_from", _("Made, earliest"), _("When it left the mould, at the earliest."), "time"),
        Column("uid", _("Identifier"), _("The hull's identifier, which never changes.")),
    ), Streamed(len(lines), lambda: (_hull_row(x, known) for x in answer.each(lines))), _("None."))  # fmt: skip


def _hull_row(x: Line, known: Known) -> Row:
    return (
        x.node.said, x.verdict, str(x.node.about.get("product") or ""), _place(x, known), x.region or "",
        x.why, x.built.last, x.built.first, x.node.uid,
    )  # fmt: skip


def _amounts(answer: Shared, lines: list[Line]) -> Table:
    """How much of each material asked about: by hull and by part of it, in the files."""
    return Table("amounts", _("How much of what was asked about is in each"), _("One material in one part of one hull."), (
        Column("hull", _("Hull"), _("The number on its plate.")),
        Column("of", _("Of"), _("What was asked about.")),
        Column("part", _("Part"), _("Layer, position or zone; empty: all together.")),
        Column("least", _("Least"), _("Least of it."), "number"),
        Column("best", _("Likely"), _("How much of it, had everything mixed well."), "number"),
        Column("most", _("Most"), _("Most of it; empty: the records set no upper bound."), "number"),
        Column("unit_of_measure", _("Unit"), _("kg, pieces or m.")),
    ), Streamed(sum(map(_amounts_of, lines)), lambda: (row for x in answer.each(lines) for row in _amount_rows(x))))  # fmt: skip


def _amounts_of(line: Line) -> int:
    """How many rows it has."""
    return sum(_with_whole(len(share.layers)) for share, _uom in line.shares.values())


def _with_whole(parts: int) -> int:
    return parts + 1 if parts > 1 else parts


def _amount_rows(line: Line) -> Iterator[Row]:
    for of, (share, uom) in line.shares.items():
        parts = sorted(share.layers.items())
        for part, bounds in [*parts, *([("", share.total)] if len(parts) > 1 else [])]:
            yield (
                line.node.said, of.code, part, amount(bounds.least, uom), amount(bounds.best, uom),
                amount(bounds.most, uom), unit_of(uom),
            )  # fmt: skip


KIND = PaperKind(
    name="scope",
    prefix="SR",
    title=gettext_lazy("Scope report"),
    asks={"q": gettext_lazy("the words of the cause, one a line: holds=K-5510, and, not, arm=S2")},
    make=scope_paper,
    page="scope",
    has_events=True,
)
