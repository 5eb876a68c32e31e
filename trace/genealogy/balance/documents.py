"""A balance as a document with stable names, and as lines to read."""

import json
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes.uncertainty import shown, shown_beside
from trace.genealogy.amounts import Bounds
from trace.genealogy.balance.figures import Balance, Figure, Part, Record, Source
from trace.genealogy.documents import UNIT_CODES, UNIT_WORDS, in_unit, utc


def as_document(balance: Balance) -> dict[str, Any]:
    """{subject, code, name, material, uom, as_known_on, tree_size, received, accounted, reconciled_percent,
    unexplained, uncertainty, counted, book, came, ends, differences, gaps}.

    Amounts are decimal texts in `uom` (KGM, H87, MTR of UN/ECE Recommendation 20), null where the records do not say;
    `best` is with every vessel fully mixed. Units and events are named by their uids.
    """
    uom = balance.uom
    return {
        "subject": balance.subject,
        "code": balance.code,
        "name": balance.name,
        "material": balance.material,
        "uom": UNIT_CODES.get(uom),
        "as_known_on": utc(balance.as_known_on),
        "tree_size": balance.tree_size,
        "received": in_unit(balance.received, uom),
        "accounted": in_unit(balance.accounted, uom),
        "reconciled_percent": percent(balance.reconciled),
        "unexplained": _bounds(balance.unexplained, uom),
        "uncertainty": {
            "expanded": in_unit(Fraction(balance.uncertainty.expanded), uom),
            "coverage": 2,
            "explained": balance.explained,
            "unmeasured": balance.uncertainty.unmeasured,
            "sources": [_source(one, uom) for one in balance.uncertainty.sources],
        },
        "counted": balance.counted,
        "book": {
            "came": in_unit(balance.book.came, uom),
            "gave": in_unit(balance.book.gave, uom),
            "poured": in_unit(balance.book.poured, uom),
            "differences": in_unit(balance.book.differences, uom),
            "left": in_unit(balance.book.left, uom),
            "unrecorded": balance.book.unrecorded,
        },
        "came": [_figure(one, uom) for one in balance.came],
        "ends": [_figure(one, uom) for one in balance.ends],
        "differences": [_figure(one, uom) for one in balance.differences],
        "gaps": [
            {"id": g.unit, "code": g.code, "what": g.what, "which": g.which, "text": g.text} for g in balance.gaps
        ],
    }


def all_as_text(balances: Sequence[Balance]) -> str:
    """{"balances": [one as as_document makes it, for each material]}."""
    found = {"balances": [as_document(balance) for balance in balances]}
    return json.dumps(found, ensure_ascii=False, indent=1, sort_keys=True)


def as_text(balance: Balance) -> str:
    """The JSON text itself: equal for equal knowledge."""
    return json.dumps(as_document(balance), ensure_ascii=False, indent=1, sort_keys=True)


def percent(part: Fraction | None) -> str | None:
    """A part of the whole as per cent with two decimals, "96.92"."""
    return None if part is None else f"{float(round(part * 10_000)) / 100:.2f}"


def _bounds(bounds: Bounds, uom: str) -> dict[str, str | None]:
    return {
        "min": in_unit(bounds.least, uom), "best": in_unit(bounds.best, uom), "max": in_unit(bounds.most, uom)
    }  # fmt: skip


def _source(one: Source, uom: str) -> dict[str, Any]:
    return {"what": one.what, "of": one.of, "count": one.count, "standard": in_unit(Fraction(one.standard), uom)}


def _figure(figure: Figure, uom: str) -> dict[str, Any]:
    return {"way": figure.way, **_bounds(figure.bounds, uom), "parts": [_part(part, uom) for part in figure.parts]}


def _part(part: Part, uom: str) -> dict[str, Any]:
    """`held` is all that was in it, `of_it` how much of that was of what is asked about, `taken` what went this way."""
    return {
        "id": part.unit,
        "code": part.code,
        "held": in_unit(part.held, uom),
        "of_it": _bounds(part.share, uom),
        "taken": {"min": in_unit(part.taken.low, uom), "max": in_unit(part.taken.high, uom)},
        **_bounds(part.bounds, uom),
        "records": [_record(record, uom) for record in part.records],
    }


def _record(record: Record, uom: str) -> dict[str, Any]:
    return {
        "event": record.event, "happened": utc(record.happened), "what": record.what, "code": record.code,
        "id": record.unit, "kind": record.kind, "then": record.then, "amount": in_unit(record.amount, uom),
    }  # fmt: skip


def way_words(subject: str = "lot") -> dict[str, str]:
    """Each way as people say it of a lot, a container or a vessel."""
    words = {
        "at the start": _("there before records began"), "received": _("received"), "topped up": _("filled in"),
        "weighed": _("weighed for it"), "placed": _("placed for it"), "poured back": _("poured back"),
        "mixed": _("mixed with another material"),
        "swept up": _("swept up, of no lot that is known"),
        "unknown source": _("came of a source that nobody recorded"),
        "hulls": _("in hulls"), "mouldings": _("in mouldings without a plate"), "moulds": _("in loaded moulds"),
        "charges": _("weighed, waiting in tubs"), "stock": _("left in its containers"),
        "vessels": _("left in vessels and mixed containers"), "back": _("poured back and counted again"),
        "samples": _("samples"), "scrap": _("scrapped"), "returned": _("returned to their supplier"),
        "regrind": _("reground"), "elsewhere": _("elsewhere"),
    }  # fmt: skip
    if subject == "lot":
        return words
    if subject == "days":
        return {**words, "at the start": _("in stock at the start"), "stock": _("in stock at the end")}
    return {**words, "stock": _("left in it")}


def cause_words() -> dict[str, str]:
    """Each cause of a difference as people say it."""
    return {
        "counted": _("counted otherwise"), "fill difference": _("filled otherwise than the label says"),
        "not found when emptied": _("not found when emptied"),
        "over the book": _("drawn beyond the book"),
    }  # fmt: skip


def as_lines(balance: Balance) -> Iterator[str]:
    """What came, where it is, what is missing, and whether weighing can be the reason."""
    uom, words = balance.uom, way_words(balance.subject)
    yield _("Balance of %(what)s %(name)s (%(material)s), as known on %(on)s (%(size)d events)") % {
        "what": balance.subject, "name": balance.name, "material": balance.material or "?",
        "on": utc(balance.as_known_on), "size": balance.tree_size,
    }  # fmt: skip
    yield ""
    for figure in balance.came:
        yield f"  {words[figure.way]:40} {said(figure.bounds, uom)}"
    for figure in balance.ends:
        yield f"  {words[figure.way]:40} {said(figure.bounds, uom)}"
    for figure in balance.differences:
        yield f"  {cause_words().get(figure.way, figure.way):40} {said(figure.bounds, uom)}"
    yield ""
    yield verdict(balance)
    for gap in balance.gaps:
        yield "  " + gap.said


def verdict(balance: Balance) -> str:
    """One sentence or two: how much is accounted for, and whether weighing explains the rest."""
    if balance.received is None:
        return _("How much came is not recorded for all of it: nothing can be said in per cent.")
    part = percent(balance.reconciled)
    if part is None:
        return _("How much of it is where is not known: nothing can be said in per cent.")
    told = _("%(percent)s %% is accounted for.") % {"percent": part}
    return f"{told} {_rest(balance)}"


def _rest(balance: Balance) -> str:
    off = balance.unexplained.best or Fraction(0)
    if balance.subject == "works order":
        went = _("All of it is where its charges went.")
        return f"{went} {_sum_off(balance)}" if balance.uncertainty.sources else went
    if not balance.counted and not off:
        return _("Nobody has counted what is left: it is what the book says, so nothing can be found missing.")
    much = unexplained_shown(balance, abs(off))
    if not off:
        return _("Nothing is unexplained.")
    what = _("%(much)s are missing.") if off > 0 else _("%(much)s more than came.")
    return what % {"much": much} + " " + _weighing(balance)


def _sum_off(balance: Balance) -> str:
    return _("Weighing alone may make their sum be off by ± %(limit)s.") % {
        "limit": limit_shown(balance)
    }


def _weighing(balance: Balance) -> str:
    limit = limit_shown(balance)
    if balance.uom != "mg":
        return _("These are counted, not weighed: each is a piece that somebody has to find.")
    if balance.explained is None:
        return _("Whether weighing explains that cannot be said: no scale is named for it.")
    if balance.explained:
        return _("Weighing alone may be off by ± %(limit)s: that explains it.") % {"limit": limit}
    return _("Weighing alone may be off by ± %(limit)s: that does not explain it.") % {"limit": limit}


def unmeasured_words(balance: Balance) -> str:
    count = balance.uncertainty.unmeasured
    words = ngettext(
        "%(count)d amount names no scale (top-ups and counts are typed): how far it may be off is not in this.",
        "%(count)d amounts name no scale (top-ups and counts are typed): how far they may be off is not in this.",
        count,
    )
    return words % {"count": count} if count else ""


def said(bounds: Bounds, uom: str) -> str:
    """ "805.200 kg", or least – best – most, each with a sign where it is below zero."""
    if bounds.least == bounds.most:
        return said_amount(bounds.least, uom)
    least, best, most = (in_unit(x, uom) or "?" for x in (bounds.least, bounds.best, bounds.most))
    return f"{least} – {best} – {most} {UNIT_WORDS.get(uom, _('pieces'))}"


def amount_shown(balance: Balance, much: int | Fraction) -> str:
    """What nobody can account for, to the place to which weighing leaves it known."""
    text = in_unit(much, balance.uom) or ""
    return f"{shown_beside(Decimal(text), _in_trade_unit(balance, balance.uncertainty.expanded)):f}"


def off_by_shown(balance: Balance) -> str:
    """How far weighing alone may be off, to the digits that say something."""
    return f"{shown(_in_trade_unit(balance, balance.uncertainty.expanded)):f}"


def standard_shown(balance: Balance, standard: Decimal) -> str:
    """The same of one reason, as a standard uncertainty, with its unit."""
    return f"{shown(_in_trade_unit(balance, standard)):f} {_unit_word(balance.uom, standard)}"


def unexplained_shown(balance: Balance, much: int | Fraction) -> str:
    return f"{amount_shown(balance, much)} {_unit_word(balance.uom, much)}"


def limit_shown(balance: Balance) -> str:
    return f"{off_by_shown(balance)} {_unit_word(balance.uom, balance.uncertainty.expanded)}"


def _in_trade_unit(balance: Balance, amount: Decimal) -> Decimal:
    """kg or m of mg or mm; pieces as they are. Rounded only once, when it is shown."""
    return amount.scaleb({"mg": -6, "mm": -3}.get(balance.uom, 0))


def _unit_word(uom: str, amount: int | Fraction | Decimal) -> str:
    return UNIT_WORDS.get(uom) or (_("piece") if amount == 1 else _("pieces"))


def said_amount(amount: int | Fraction, uom: str) -> str:
    return f"{in_unit(amount, uom)} {_unit_word(uom, amount)}"
