"""Tables that several kinds of paper have: history, what was put right or told late, overrides, a tree with its amounts."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from trace.codes import in_order, named_together
from trace.exports.asked import Reader
from trace.exports.paper import Column, Facts, Row, Streamed, Table
from trace.genealogy.admitted import is_unweighed
from trace.genealogy.answer import Answer, Line
from trace.genealogy.documents import UNIT_WORDS, in_unit
from trace.genealogy.graph import Edge
from trace.sheets.contracts import HistoryLine, HoldLine
from trace.sheets.facts.revisions import revisions


def history_table(name: str, title: str, about: str, lines: Iterable[HistoryLine], empty: str = "") -> Table:
    """One row an event, in the order in which it happened."""
    return Table(name, title, about, (
        Column("happened", _("Happened"), _("When it happened."), "time", wide=1.25),
        Column("what", _("What"), _("What happened."), wide=4.2),
        Column("who", _("Who"), _("Who recorded it, and who helped."), wide=1.5),
        Column("with_what", _("With"), _("Scale, mould and logger it was done with."), wide=1.3),
        Column("note", _("Beside it"), _("What the rules said, what was let pass and why, what put it right."), wide=2.6),
        Column("recorded", _("Recorded"), _("When it was recorded."), "time", wide=1.25),
        Column("late", _("Late"), _("Recorded more than 15 minutes after it happened."), "flag"),
        Column("corrected", _("Put right"), _("A later entry puts it right."), "flag"),
        Column("correction", _("Puts right"), _("It puts an earlier entry right."), "flag"),
        Column("override", _("Let pass"), _("A rule was let pass with a reason."), "flag"),
    ), tuple(
        (x.happened, x.what, x.who, x.with_what, x.note, x.recorded, x.late, x.corrected, x.correction, x.override)
        for x in lines
    ), empty)  # fmt: skip


def told_tables(lines: Iterable[HistoryLine]) -> Iterator[Table]:
    """What was let pass, and what was put right or told late: picked out of a history."""
    every = tuple(lines)
    yield history_table(
        "let_pass", _("Concessions and overrides: rules that were let pass"), _("One act for which a rule was let pass."),
        (x for x in every if x.override), _("No rule was let pass."),
    )  # fmt: skip
    yield history_table(
        "put_right_or_late", _("Corrections and late entries"),
        _("One entry that puts another right, was put right, or was recorded late."),
        (x for x in every if x.late or x.corrected or x.correction), _("Nothing was put right or recorded late."),
    )  # fmt: skip


def hold_table(holds: Iterable[HoldLine]) -> Table:
    """The holds in force."""
    return Table("holds", _("Holds in force"), _("One hold in force then that reaches it."), (
        Column("laid", _("Laid"), _("When it was laid."), "time", wide=1.3),
        Column("on", _("On what, and why"), _("On what it was laid, and why."), wide=5),
        Column("by", _("By"), _("Who laid it."), wide=1.6),
        Column("certain", _("Reaches it"), _("Whether what it was laid on is in it for certain."), "verdict", wide=1),
        Column("rule", _("Kind"), _("The kind of hold, or the rule that laid it."), wide=1.1),
    ), tuple((h.when, h.text, h.who, "certain" if h.certain else "may", h.rule) for h in holds), _("No hold is in force."))  # fmt: skip


def again(question: str, records: str, reader: Reader, rules: Iterable[str] = ()) -> Facts:
    """The end of every paper: how the same can be asked again, and what proves it."""
    said = ", ".join(rules)
    return Facts(_("How this can be asked again"), (
        (_("Question"), question),
        (_("Records known then"), records),
        *(((_("Rule sets its records cite"), said),) if said else ()),
        *(((_("Reader"), reader.left_out()),) if reader.left_out() else ()),
        (_("Proof"), _(
            "The fingerprint is the SHA-256 of this paper's data, which its JSON file holds byte for byte. Asked again by"
            " a reader who may see as much, for the same moment, the data and so the fingerprint are the same, unless a"
            " name or a reason was erased since."
        )),
    ))  # fmt: skip


def plant_name(known: datetime) -> str:
    """The plant as strangers read it; “” where the plant has not said it."""
    return str(revisions([("setting", "plant-name")], known).newest("setting", "plant-name").get("value") or "")


def amount(value: int | Fraction | None, uom: str | None) -> Decimal | None:
    """An amount in its trade unit; None where nothing says it."""
    text = in_unit(value, uom)
    return None if text is None else Decimal(text)


def unit_of(uom: str | None) -> str:
    return UNIT_WORDS.get(uom or "") or (_("pieces") if uom == "pc" else "")


def tree_table(name: str, title: str, about: str, answer: Answer) -> Table:
    """A walk as a table: one row an edge, in the order of the tree, what went in below what it went into.

    `least`, `best`, `most` are of the row's unit in the unit asked about, or the other way round when asked forward.
    """
    back = answer.direction == "back"
    return Table(name, title, about, (
        Column("step", _("Step"), _("Steps from what was asked about."), "count", wide=0.5),
        Column("unit", _("Unit"), _("Its serial, label, moulding or lot number."), wide=2.0),
        Column("kind", _("Kind"), _("What kind of unit it is.")),
        Column("material", _("Of"), _("Its material, part or product."), wide=1.5),
        Column("way", _("Way"), _("How it went in: the act that moved it."), wide=1.0),
        Column("where", _("Where"), _("The layer, position or zone."), wide=1.0),
        Column("other", _("Into") if back else _("Out of"), _("The unit one step nearer to what was asked about."), wide=1.7),
        Column("amount", _("Amount"), _("How much went this way, as recorded."), "number", wide=1.0),
        Column("least", _("Least"), _("Least of it in the whole, whichever way it mixed."), "number", wide=0.95),
        Column("best", _("Likely"), _("How much of it, had everything mixed well."), "number"),
        Column("most", _("Most"), _("Most of it in the whole; empty: the records set no upper bound."), "number", wide=0.95, none=_("no bound")),
        Column("unit_of_measure", _("Unit"), _("What the amounts count: kg, pieces, m."), wide=0.6),
        Column("verdict", _("In it"), _("Whether it is in it: certain or may."), "verdict", wide=0.9),
        Column("uid", _("Identifier"), _("The unit's identifier, which never changes.")),
        Column("event", _("Event"), _("The identifier of the event that recorded the way.")),
    ), Streamed(_tree_count(answer), lambda: _tree_rows(answer)))  # fmt: skip


def _tree_count(answer: Answer) -> int:
    """One row for each unit's ways into each other unit that are alike."""
    near_far = ((e.child, e.parent) if answer.direction == "back" else (e.parent, e.child) for e in answer.edges)
    return len({(*ends, *_sort(edge)) for ends, edge in zip(near_far, answer.edges, strict=True)})


def _sort(edge: Edge) -> tuple[object, ...]:
    """What ways have in common that stand as one row."""
    return edge.role, edge.layer, edge.uom, edge.amount is None


def _tree_rows(answer: Answer) -> Iterator[Row]:
    """What is below a unit stands under its first row only."""
    lines = {line.node.id: line for line in answer.lines}
    below: dict[int, list[tuple[int, Edge]]] = {}
    for edge in answer.edges:
        near, far = (edge.child, edge.parent) if answer.direction == "back" else (edge.parent, edge.child)
        below.setdefault(near, []).append((far, edge))
    opened = {answer.root.id}
    stack = [(answer.root.id, 1, ways) for ways in reversed(_alike(below.get(answer.root.id, [])))]
    while stack:
        near, step, ways = stack.pop()
        unit = ways[0][0]
        yield _tree_row(lines, unit, near, step, [edge for _far, edge in ways], answer.event_uids)
        if unit not in opened:
            opened.add(unit)
            stack += [(unit, step + 1, more) for more in reversed(_alike(below.get(unit, [])))]


def _alike(ways: list[tuple[int, Edge]]) -> list[list[tuple[int, Edge]]]:
    """Ways to the same unit by the same act and layer as one: eight inserts out of one box are one row."""
    found: dict[object, list[tuple[int, Edge]]] = {}
    for far, edge in ways:
        found.setdefault((far, *_sort(edge)), []).append((far, edge))
    return list(found.values())


def _tree_row(
    lines: Mapping[int, Line], unit: int, near: int, step: int, edges: list[Edge], events: Mapping[int, str]
) -> Row:
    line, total, edge = lines[unit], lines[unit].share.total, edges[0]
    about, amounts = line.node.about, [e.amount for e in edges if e.amount is not None]
    where = edge.layer or named_together(sorted({e.position for e in edges if e.position}, key=in_order))
    # Of a way that takes all of a unit no amount is asked; of one that takes a part it is missing.
    unsaid = None if is_unweighed(edge) else ""
    known = line.uom is not None
    return (
        step, line.node.said, line.node.kind, str(about.get("material") or about.get("product") or ""),
        edge.role, where, lines[near].node.said, amount(sum(amounts), edge.uom) if amounts else unsaid,
        amount(total.least, line.uom) if known else "", amount(total.best, line.uom) if known else "",
        amount(total.most, line.uom) if known else "",
        unit_of(line.uom or edge.uom), line.verdict, line.node.uid,
        " ".join(dict.fromkeys(events.get(e.event, "") for e in edges)),
    )  # fmt: skip
