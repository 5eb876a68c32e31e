"""What the sheet of one balance shows, put together from its figures."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes import printed
from trace.drawings import Band, FlowPair, flow_drawings
from trace.genealogy.amounts import Bounds
from trace.genealogy.balance.documents import (
    cause_words,
    limit_shown,
    percent,
    said,
    said_amount,
    standard_shown,
    unexplained_shown,
    unmeasured_words,
    verdict,
    way_words,
)
from trace.genealogy.balance.figures import Balance, Figure, Part, Record
from trace.genealogy.documents import UNIT_WORDS, in_unit
from trace.sheets.addresses import hull_url, lot_url, unit_url
from trace.sheets.contracts import grouped
from trace.sheets.facts.amounts import likely
from trace.sheets.facts.known import known_of
from trace.sheets.hulls.sheet import caution

# So many records are shown of one figure; the file has all of them.
SHOWN = 60


@dataclass(frozen=True, slots=True)
class RecordLine:
    """One record that a figure adds up."""

    when: datetime
    what: str
    amount: str
    url: str


@dataclass(frozen=True, slots=True)
class PartLine:
    """What one container or filling gave to one way."""

    code: str
    url: str
    taken: str
    held: str
    of_it: str
    amount: str
    mixed: bool
    records: tuple[RecordLine, ...]
    more: int


@dataclass(frozen=True, slots=True)
class FigureLine:
    """One line of the table; `least` and `most` are empty where both are `best`."""

    name: str
    best: str
    least: str
    most: str
    sign: str
    parts: tuple[PartLine, ...]


@dataclass(frozen=True, slots=True)
class SourceLine:
    what: str
    count: int
    standard: str


@dataclass(frozen=True, slots=True)
class BalanceSheet:
    """Contract of templates/pages/balance.html."""

    name: str
    kind: str
    code: str
    material: str
    unit: str
    as_known_on: datetime
    records_count: int
    caution: str
    received: str
    percent: str
    off: bool
    verdict: str
    came: tuple[FigureLine, ...]
    ends: tuple[FigureLine, ...]
    differences: tuple[FigureLine, ...]
    accounted: str
    missing: str
    missing_word: str
    sources: tuple[SourceLine, ...]
    limit: str
    unmeasured: str
    book: tuple[tuple[str, str], ...]
    gaps: tuple[str, ...]
    drawing: FlowPair | None
    own_url: str
    whose: str = ""

    @property
    def records(self) -> str:
        return grouped(self.records_count)

    @property
    def shared(self) -> bool:
        """Whether some figure is a share of what was mixed."""
        return any(line.most for line in (*self.ends, *self.differences))


def balance_sheet(balance: Balance, asked: datetime | None = None) -> BalanceSheet:
    """The whole sheet; `asked` is the moment that its links keep."""
    kinds = {"lot": _("lot"), "container": _("container"), "vessel": _("vessel")}
    off = balance.unexplained.best or Fraction(0)
    return BalanceSheet(
        name=printed(balance.name), kind=kinds.get(balance.subject, balance.subject), code=printed(balance.code),
        material=balance.material or _("material not known"), unit=UNIT_WORDS.get(balance.uom, _("pieces")),
        as_known_on=balance.as_known_on, records_count=balance.tree_size, caution=caution(),
        received=_amount(balance.received, balance.uom), percent=percent(balance.reconciled) or "",
        # Too much is as loud as too little, unless weighing explains it.
        off=off != 0 and balance.explained is not True, verdict=verdict(balance),
        came=_lines(balance.came, balance, asked), ends=_lines(balance.ends, balance, asked),
        differences=_lines(balance.differences, balance, asked), accounted=_amount(balance.accounted, balance.uom),
        missing=unexplained_shown(balance, abs(off)),
        missing_word=_("more than came") if off < 0 else _("unexplained"),
        sources=tuple(_source_line(balance)),
        limit=limit_shown(balance) if balance.uncertainty.sources else "",
        unmeasured=unmeasured_words(balance), book=_book(balance), gaps=tuple(g.said for g in balance.gaps),
        drawing=_drawing(balance), own_url=lot_url(balance.code, asked), whose=printed(balance.name),
    )  # fmt: skip


def _amount(amount: int | Fraction | None, uom: str) -> str:
    return _("not known") if amount is None else said_amount(amount, uom)


def _to_the_gram(bounds: Bounds, uom: str) -> str:
    """As recorded where the bounds meet; a model's share to the gram, since the model knows no better."""
    best = likely(bounds, uom)
    return _("not known") if best is None else f"{best:f}"


def _lines(figures: Sequence[Figure], balance: Balance, asked: datetime | None) -> tuple[FigureLine, ...]:
    words = way_words(balance.subject) | cause_words()
    found = []
    for figure in figures:
        bounds = figure.bounds
        meet = bounds.least == bounds.most
        found.append(FigureLine(
            name=words.get(figure.way, figure.way),
            best=_to_the_gram(bounds, balance.uom),
            least="" if meet else in_unit(bounds.least, balance.uom) or "?",
            most="" if meet else in_unit(bounds.most, balance.uom) or "?",
            sign="" if meet else _("may"),
            parts=tuple(_part(part, balance.uom, asked) for part in figure.parts),
        ))  # fmt: skip
    return tuple(found)


def _part(part: Part, uom: str, asked: datetime | None) -> PartLine:
    taken = part.taken.low if part.taken.high is None else part.taken.high
    return PartLine(
        code=printed(part.code), url=lot_url(part.unit, asked), taken=said_amount(taken, uom),
        held=_amount(part.held, uom), of_it=said(part.share, uom), amount=said(part.bounds, uom),
        mixed=not part.share.pure, records=tuple(_record(r, uom, asked) for r in part.records[:SHOWN]),
        more=max(0, len(part.records) - SHOWN),
    )  # fmt: skip


def _record(record: Record, uom: str, asked: datetime | None) -> RecordLine:
    what = f"{record.kind} {printed(record.then)}" if record.then else f"{record.what}, {printed(record.code)}"
    url = hull_url(record.then, asked) if record.kind == "hull" else unit_url(record.unit, asked)
    return RecordLine(record.happened, what, _amount(record.amount, uom), url)


def _source_line(balance: Balance) -> list[SourceLine]:
    words = {
        "step of the scale": _("step of scale %(of)s, %(count)s readings"),
        "limits of the scale": _("limits of scale %(of)s, the same in %(count)s weighings"),
        "fill tolerance": _("what labels of %(of)s may be off by, %(count)s of them"),
    }
    return [
        SourceLine(
            words[one.what] % {"of": one.of, "count": one.count}, one.count,
            standard_shown(balance, one.standard),
        )
        for one in balance.uncertainty.sources
    ]  # fmt: skip


def _book(balance: Balance) -> tuple[tuple[str, str], ...]:
    book, uom = balance.book, balance.uom
    found = [
        (_("came"), _amount(book.came, uom)), (_("differences booked"), said_amount(book.differences, uom)),
        (_("drawn"), said_amount(book.gave, uom)), (_("left by the book"), _amount(book.left, uom)),
    ]  # fmt: skip
    if book.poured:
        found.insert(3, (_("of that poured into others"), said_amount(book.poured, uom)))
    if book.unrecorded:
        words = ngettext("%(n)d draw", "%(n)d draws", book.unrecorded) % {"n": book.unrecorded}
        found.append((_("without an amount, and in none of these"), words))
    return tuple(found)


def _drawing(balance: Balance) -> FlowPair | None:
    """What came on the left, where it is on the right, what is missing dashed; None where amounts are not known."""
    if not balance.received or balance.accounted is None or balance.unexplained.best is None:
        return None
    words, short, uom = way_words(balance.subject), _short(balance.subject), balance.uom
    colour = str(known_of((), [{"material": balance.material}], as_known_on=balance.as_known_on).plant.newest(
        "material", balance.material
    ).get("colour") or "")  # fmt: skip
    came, went = (
        [
            Band(words[f.way], float(f.bounds.best or 0), _about(f.bounds, uom), colour, short=short.get(f.way, ""))
            for f in figures
            if f.bounds.best
        ]
        for figures in (balance.came, balance.ends)
    )
    off = balance.unexplained.best
    if off > 0:
        went.append(Band(_("unexplained"), float(off), unexplained_shown(balance, off), missing=True))
    if off < 0:
        came.append(Band(_("more than came"), float(-off), unexplained_shown(balance, -off), missing=True))
    # Where one question has a balance for each material, that is its name.
    title = balance.material if balance.subject in ("days", "works order") else printed(balance.name)
    return flow_drawings(came, went, title=title, total=said_amount(balance.received, uom))


def _about(bounds: Bounds, uom: str) -> str:
    """ "about 70.607 kg" where it is a share of what was mixed."""
    amount = f"{_to_the_gram(bounds, uom)} {UNIT_WORDS.get(uom, _('pieces'))}"
    return amount if bounds.least == bounds.most else _("about %(amount)s") % {"amount": amount}


def _short(subject: str) -> dict[str, str]:
    """Ways in so few words that they fit beside a stream on a telephone."""
    return {
        "stock": _("in its boxes") if subject == "lot" else _("left in it"),
        "vessels": _("in vessels"), "charges": _("in tubs"), "moulds": _("in moulds"),
        "mouldings": _("in mouldings"), "unknown source": _("unknown source"), "at the start": _("there before"),
        "back": _("poured back"), "weighed": _("weighed"), "placed": _("placed"), "mixed": _("mixed"),
    }  # fmt: skip
