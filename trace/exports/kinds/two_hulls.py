"""The paper of two hulls side by side: what differs in all that is recorded of them, and what is the same."""

from collections.abc import Iterator
from dataclasses import replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.exports.asked import Asked, PaperError, for_reader
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, plant_name
from trace.exports.paper import Beside, Column, Facts, Paper, Part, Picture, Said, Table
from trace.sheets.contracts import grouped
from trace.sheets.hulls.compared import CompareSheet, between
from trace.sheets.hulls.gathered import Gathered, gather


def two_hulls_paper(asked: Asked) -> Paper:
    """Raises PaperError where both are one hull, LookupError for a plate that nobody knew by then."""
    one, two = (_gathered(asked.words[name], asked) for name in ("a", "b"))
    found = between(one, two, asked.as_known_on)
    if found.left == found.right:
        raise PaperError(_("Both are %(plate)s: give the plate of another hull.") % {"plate": found.left})
    size = one.answer.tree_size
    return Paper(
        kind="two-hulls",
        what=_("Two hulls side by side"),
        title=_("%(left)s beside %(right)s") % {"left": found.left, "right": found.right},
        question=(("a", found.left), ("b", found.right)),
        as_known_on=asked.as_known_on,
        records=size,
        gaps=found.gaps,
        parts=tuple(_parts(found, asked, size)),
        caution=found.caution,
        plant=plant_name(asked.as_known_on),
    )


def _gathered(plate: str, asked: Asked) -> Gathered:
    found = gather(plate, asked.as_known_on)
    return replace(found, known=for_reader(found.known, asked.reader))


def _parts(found: CompareSheet, asked: Asked, size: int) -> Iterator[Part]:
    yield Facts("", ((found.left, found.left_line), (found.right, found.right_line), (_("Compared"), found.equal)))
    if found.left_plan and found.right_plan:
        yield Beside(Picture(found.left, found.left_plan.upright), Picture(found.right, found.right_plan.upright))
    yield _differences(found)
    yield Said(_("Compared, and the same"), found.same, empty=_("Nothing."))
    question = _("%(left)s beside %(right)s, as known on %(on)s") % {
        "left": found.left, "right": found.right, "on": asked.as_known_on.isoformat(),
    }  # fmt: skip
    yield again(question, grouped(size), asked.reader)


def _differences(found: CompareSheet) -> Table:
    return Table("differs", _("Only what differs"), _("One thing in which they differ."), (
        Column("sort", _("Of what sort"), _("Wall, inserts, cook and so on."), wide=1.2),
        Column("about", _("What"), _("What differs."), wide=2),
        Column("left", found.left, _("Of the first; empty: not recorded."), wide=3, none=_("no record")),
        Column("right", found.right, _("Of the second; empty: not recorded."), wide=3, none=_("no record")),
        Column("weight", _("Mind"), _("What is to be minded of it: a lot on hold."), wide=1.3),
    ), tuple(
        (group.title, line.about, line.left or None, line.right or None, line.weight)
        for group in found.groups for line in group.lines
    ), _("Nothing differs in what is recorded."))  # fmt: skip


KIND = PaperKind(
    name="two-hulls",
    prefix="TH",
    title=gettext_lazy("Two hulls side by side"),
    asks={"a": gettext_lazy("the plate of one hull"), "b": gettext_lazy("the plate of another")},
    make=two_hulls_paper,
    page="compare",
)
