"""What an answer admits: each missing or doubtful record as one sentence, with the unit it is about."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from trace.codes.amounts import mg_to_kg
from trace.genealogy.graph import PART_ROLES, Edge, Node
from trace.genealogy.missing import BEFORE_RECORDS, Gap


@dataclass(frozen=True, slots=True, order=True)
class Admitted:
    """`what` is the kind of gap (layer, insert, cycle, circle …), `which` the layer or position. `text` names units by
    their bare codes, as other systems read it; `said` as they are printed, for people.
    """

    what: str
    which: str
    code: str
    unit: str
    text: str
    said: str


def _say(what: str, which: str, node: Node, text: str, other: Node | None = None, **values: object) -> Admitted:
    """`other`: a second unit that the text names as %(other)s."""
    known = {"what": what, "which": which, **values}
    bare = {"code": node.code, "other": other.code if other else ""}
    read = {"code": node.said, "other": other.said if other else ""}
    return Admitted(what, which, node.code, node.uid, text % {**known, **bare}, text % {**known, **read})


def gap(missing: Gap, node: Node, *, fills: bool = False) -> Admitted:
    """A record that a unit lacks; `fills`: what was asked about could be what is missing."""
    if missing.what == BEFORE_RECORDS:
        text = _("%(code)s was made before records began: it may hold any lot that was there before it.")
    elif missing.which:
        text = _("%(code)s has no record of its %(what)s “%(which)s”.")
    else:
        text = _("%(code)s has no record of its %(what)s.")
    if fills:
        text += " " + _("It may hold what is asked about.")
    return _say(missing.what, missing.which, node, text)


def stopped(node: Node) -> Admitted:
    if node.kind == "regrind":
        return _say("regrind", "", node, _("What regrind %(code)s was made of was not followed here."))
    return _say("regrind", "", node, _("%(code)s went on into regrind, which was not followed here."))


def not_ground(edge: Edge, names: Mapping[int, Node]) -> Admitted:
    return _say(
        "regrind", "", names[edge.parent],
        _("Inserts and graphics of %(code)s were not followed into its regrind: they are cut out first"
          " (common practice; no record says so)."),
    )  # fmt: skip


def circle(edge: Edge, names: Mapping[int, Node]) -> Admitted:
    return _say(
        "circle", "", names[edge.parent],
        _("%(code)s went back into %(other)s, from which it came: that way is not followed."),
        names[edge.child],
    )  # fmt: skip


def in_circle(node: Node) -> Admitted:
    return _say("circle", "", node, _("%(code)s stands in a circle of records: what it holds is not known."))


def is_unweighed(edge: Edge) -> bool:
    # A container whose amount nobody recorded says so itself.
    return edge.amount is None and edge.role in PART_ROLES and edge.role != "receive"


def unweighed(edge: Edge, names: Mapping[int, Node]) -> Admitted:
    return _say(
        "amount", edge.key, names[edge.child],
        _("Nobody recorded how much of %(other)s went into %(code)s."), names[edge.parent],
    )  # fmt: skip


def over(node: Node, amount: int) -> Admitted:
    much = f"{mg_to_kg(amount)} kg" if node.uom == "mg" else f"{amount} {node.uom}"
    return _say(
        "over the book", "", node, _("%(code)s held %(much)s more than its book says, nobody knows of what."),
        much=much,
    )  # fmt: skip


def unchecked(instrument: str) -> Admitted:
    text = _("No good check of %(instrument)s is on record before that: all that was measured with it is told.") % {
        "instrument": instrument
    }
    return Admitted("check", "", instrument, "", text, text)


def wide() -> Admitted:
    text = _(
        "Very much was made of what is asked about: shares were worked out for the nearest of it alone, so that some "
        "which hold it for certain are told as may."
    )
    return Admitted("size", "", "", "", text, text)


def too_many(node: Node, count: int, judged: int) -> Admitted:
    return _say(
        "size", "", node,
        _("%(count)d units went into %(code)s; shares were worked out for the nearest %(judged)d of them,"
          " the others may be in it."),
        count=count, judged=judged,
    )  # fmt: skip
