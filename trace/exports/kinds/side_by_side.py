"""The paper of bad hulls against good: what differs, row by row and hull by hull, and what is the same in all."""

from collections.abc import Iterator

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.drawings.strip import StripLine, strip_rows
from trace.exports.asked import Asked, PaperError
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, plant_name
from trace.exports.paper import Column, Facts, Paper, Part, Picture, Row, Said, Streamed, Table
from trace.quality.common_cause import CommonCause, common_cause
from trace.quality.documents import no_proof
from trace.quality.factors import Factor, said
from trace.quality.incidence import OPEN
from trace.quality.question import QuestionError, asked_in_words, from_words
from trace.quality.side_by_side import NOT, Differs, differing, good_ones, same_in_all
from trace.sheets.contracts import grouped
from trace.sheets.hulls.sheet import caution

STRIPS_EACH = 8  # rows of one drawing, so that it stands on one sheet also where their names are long


def side_by_side_paper(asked: Asked) -> Paper:
    """Raises PaperError for what cannot be compared, LookupError for a plate that nobody knew by then."""
    try:
        answer = common_cause(from_words(asked.words), asked.as_known_on)
    except QuestionError as error:
        raise PaperError(str(error)) from None
    return Paper(
        kind="side-by-side",
        what=_("Bad against good"),
        title=_("%(bad)d bad hulls beside %(good)d good ones") % {
            "bad": len(answer.bad), "good": int(good_ones(answer).sum()),
        },
        question=tuple(asked_in_words(answer.question).items()),
        as_known_on=answer.as_known_on,
        records=answer.tree_size,
        gaps=answer.notes,
        parts=tuple(_parts(answer, asked)),
        caution=f"{no_proof()} {caution()}",
        plant=plant_name(asked.as_known_on),
    )  # fmt: skip


def _parts(answer: CommonCause, asked: Asked) -> Iterator[Part]:
    def name(factor: Factor) -> str:
        return said(factor, answer.units)

    rows, same = differing(answer, name), same_in_all(answer, name)
    bad = [answer.hulls[n].said for n in answer.bad]
    good = [hull.said for hull, chosen in zip(answer.hulls, good_ones(answer), strict=True) if chosen]
    yield Facts("", (
        (_("Bad"), ", ".join(bad)),
        (_("Good"), _("%(n)s others of the same models") % {"n": grouped(len(good))}),
        (_("Rows that differ"), str(len(rows))),
        (_("Rows that are the same in all"), str(len(same))),
    ))  # fmt: skip
    yield _differences(rows)
    yield from _strips(rows)
    yield Said(_("The same in all, bad and good, as far as records say"), tuple(f"{one.sort}: {one.name}" for one in same), empty=_("Nothing."))
    yield _hull_by_hull(rows, bad, good)
    question = _("bad against good: %(bad)s, as known on %(on)s") % {
        "bad": " ".join(answer.question.bad), "on": answer.as_known_on.isoformat(),
    }  # fmt: skip
    yield again(question, grouped(answer.tree_size), asked.reader)


def _differences(rows: list[Differs]) -> Table:
    return Table("differs", _("Only what differs"), _("One cause that is commoner, or rarer, among the bad."), (
        Column("row", _("Row"), _("Its number."), "count", wide=0.5),
        Column("sort", _("Of what sort"), _("Lot, mould, shift and so on."), wide=1.4),
        Column("name", _("Which"), _("The cause."), wide=4),
        Column("bad", _("bad"), _("Bad hulls that have it."), "count", wide=0.7),
        Column("of_bad", _("of"), _("Bad hulls of which that is known."), "count", wide=0.7),
        Column("good", _("good"), _("Good hulls that have it."), "count", wide=0.7),
        Column("of_good", _("of"), _("Good hulls of which that is known."), "count", wide=0.7),
    ), tuple(
        (n, one.sort, one.name, one.bad, one.of_bad, one.good, one.of_good) for n, one in enumerate(rows, 1)
    ), _("Nothing is a quarter commoner, or rarer, among the bad."))  # fmt: skip


def _strips(rows: list[Differs]) -> Iterator[Part]:
    """Each row drawn, as its page draws it: as many drawings as they need, each on one sheet."""
    lines = [
        StripLine(n, one.name, one.bad_ones, one.good_ones, f"{one.bad}/{one.of_bad}", f"{one.good}/{one.of_good}")
        for n, one in enumerate(rows, 1)
    ]
    for at in range(0, len(lines), STRIPS_EACH):
        title = _("Hull by hull") if at == 0 else _("Hull by hull (continued)")
        yield Picture(title, strip_rows(lines[at : at + STRIPS_EACH]))
    if lines:
        yield Said("", (_(
            "Each stroke is a hull, the bad left, the good right, in the order in which they were made: a full stroke has it,"
            " a hollow half one may have it, a dash has it not."
        ),))  # fmt: skip


def _hull_by_hull(rows: list[Differs], bad: list[str], good: list[str]) -> Table:
    """Which hull has what, in the files."""
    def made() -> Iterator[Row]:
        for n, one in enumerate(rows, 1):
            for side, hulls, grades in (("bad", bad, one.bad_ones), ("good", good, one.good_ones)):
                for hull, grade in zip(hulls, grades, strict=True):
                    yield n, hull, side, "cannot" if grade == NOT else "may" if grade == OPEN else "certain"

    return Table("hulls", _("Row by row, hull by hull"), _("One hull in one row."), (
        Column("row", _("Row"), _("The number of the row."), "count"),
        Column("hull", _("Hull"), _("The number on its plate, or what it goes by.")),
        Column("side", _("Side"), _("bad or good.")),
        Column("has", _("Has it"), _("Certain also where the records lead there through a vessel that mixed; may where a record"
                                     " is missing."), "verdict"),
    ), Streamed(len(rows) * (len(bad) + len(good)), made))  # fmt: skip


KIND = PaperKind(
    name="side-by-side",
    prefix="BG",
    title=gettext_lazy("Bad against good"),
    asks={
        "bad": gettext_lazy("the plates of the bad hulls, one a line"),
        "first": gettext_lazy("the first day of the span, or nothing"),
        "last": gettext_lazy("the last day of the span, or nothing"),
        "days": gettext_lazy("the least age in days, or nothing"),
        "sold": gettext_lazy("no: unsold hulls too"),
    },
    make=side_by_side_paper,
    page="common_cause",
    may_lack=("first", "last", "days", "sold"),
)
