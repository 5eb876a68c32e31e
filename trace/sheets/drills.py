"""What pages and papers say of a mock recall alike: its figures beside those signed and those of the last."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from trace.genealogy.balance.documents import cause_words
from trace.genealogy.drill import Drill, Outcome


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a result: what it is, as it was found now, as signed, and as it was the last time."""

    name: str
    now: str
    signed: str
    last: str


def last_before(one: Drill, every: Sequence[Drill]) -> Drill | None:
    """The last drill that was begun before this one and signed."""
    return next((other for other in every if other.id < one.id and other.signed), None)


def figure_words() -> dict[str, str]:
    """Each figure of a result as people say it."""
    return {
        "certain": _("hulls certain"), "may": _("hulls that may"), "here": _("of these in a place of the plant"),
        "gone": _("of these gone, and to whom is known"), "nowhere": _("of these nobody knows where"),
        "lots": _("lots in the hull, certain"), "lots may": _("lots in the hull that may"),
        "broken": _("records missing on the way"), "received": _("received"), "accounted": _("accounted for"),
        "reconciled": _("reconciled, per cent"), "records": _("records known then"),
    }  # fmt: skip


def figures(found: Outcome, one: Drill, last: Drill | None) -> list[Figure]:
    rows = []
    for name, word in figure_words().items():
        unit = f" {found.said['uom']}" if name in ("received", "accounted") else ""
        now = f"{found.said[name]}{unit}" if found.said[name] else _("not known")
        signed = one.result.get(name, "") + (unit if one.result.get(name) else "")
        rows.append(Figure(word, now, signed, last.result.get(name, "") if last else ""))
    minutes = one.minutes(one.signed)
    before = last.minutes(last.signed) if last else None
    spent = ["" if n is None else str(n) for n in (minutes, before)]
    return [Figure(_("minutes from beginning to signature"), spent[0], spent[0], spent[1]), *rows]


def unaccounted(one: Drill, found: Outcome) -> list[tuple[str, str]]:
    """(which, what) that was signed as unaccounted for; before that what is found now."""
    words = {**cause_words(), "no place": _("nobody recorded where it is"), "unexplained": _("explained by no record"),
             "not known": _("an amount that came or went is not recorded, so nothing can be said in per cent")}
    every = one.unaccounted if one.signed else found.unaccounted
    return [(which, words.get(what, what)) for what, which in every]


def same_as_signed(one: Drill, found: Outcome) -> bool | None:
    """Whether the records still give what was signed; None while nothing was."""
    if one.signed is None:
        return None
    return (dict(one.result), one.unaccounted) == (dict(found.said), found.unaccounted)
