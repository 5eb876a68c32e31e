"""What a vessel holds, drawn: each lot from its least to its most, and what three models of flow would say."""

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from django.utils.translation import gettext as _

from trace.codes import printed
from trace.drawings import ContainerPair, Share, container_drawings
from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.documents import in_unit
from trace.genealogy.find import carrier_of
from trace.genealogy.vessel import Held, OfLot, held_by
from trace.sheets.addresses import balance_url, lot_url
from trace.sheets.facts.amounts import in_trade_unit
from trace.sheets.facts.known import known_of

# So many lots are drawn; the table has all.
DRAWN = 8


@dataclass(frozen=True, slots=True)
class LotHeld:
    """One lot in the vessel, in kg."""

    name: str
    url: str
    balance_url: str
    verdict: str
    least: str
    most: str
    plug: str
    mixed: str
    funnel: str


@dataclass(frozen=True, slots=True)
class VesselContent:
    """Contract of templates/pages/parts/vessel_content.html."""

    drawing: ContainerPair
    lots: tuple[LotHeld, ...]
    doubt: bool


def vessel_content(code: str, asked: datetime | None = None) -> VesselContent | None:
    """What the vessel with this label holds, as known then; None for whatever is no vessel with something in it."""
    with one_picture():
        known, _size = what_was_known(asked)
        carrier = carrier_of(code, known)
        if carrier is None or carrier[1] != "vessel":
            return None
        held = held_by(carrier[0], code, known)
    return _content(held, known, asked) if held else None


def _content(held: Held, known: datetime, asked: datetime | None) -> VesselContent:
    plant = known_of((), [{"material": held.material}], as_known_on=known).plant
    shares = [
        Share(
            _name(one), one.bounds.verdict, in_trade_unit(one.bounds.least, "mg"),
            in_trade_unit(held.left if one.bounds.most is None else one.bounds.most, "mg"),
        )
        for one in held.lots[:DRAWN]
    ]  # fmt: skip
    drawing = container_drawings(
        "silo", filled=in_trade_unit(held.filled, "mg"), left=in_trade_unit(held.left, "mg"),
        colour=str(plant.newest("material", held.material).get("colour") or ""), shares=shares,
        name=printed(held.code),
    )  # fmt: skip
    return VesselContent(drawing, tuple(_line(one, asked) for one in held.lots), held.doubt)


def _line(one: OfLot, asked: datetime | None) -> LotHeld:
    return LotHeld(
        _name(one), lot_url(one.lot.uid, asked), balance_url(one.lot.uid, asked), one.bounds.verdict,
        _kg(one.bounds.least), _("not known") if one.bounds.most is None else _kg(one.bounds.most),
        _kg(one.models["plug"]), _kg(one.models["mixed"]), _kg(one.models["funnel"]),
    )  # fmt: skip


def _kg(amount: int | Fraction) -> str:
    """To the gram: a model knows no better."""
    return f"{float(round(Fraction(amount) / 1000)) / 1000:.3f}" if isinstance(amount, Fraction) else in_unit(
        amount, "mg"
    ) or ""  # fmt: skip


def _name(one: OfLot) -> str:
    return one.lot.lot_no or one.lot.said
