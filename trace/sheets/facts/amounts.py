"""Amounts as a sheet shows them: kilograms with the digits that matter, pieces, metres."""

from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from trace.codes import mg_to_kg
from trace.genealogy.amounts import Bounds

CENTIGRAM_10 = 10_000  # mg in 0.01 kg, the usual resolution of a floor scale


def in_trade_unit(amount: int | Fraction, uom: str | None) -> Decimal:
    """mg as kg (two decimals when that is all of it), pieces whole or to 0.001, mm as m."""
    if uom == "mg":
        whole = round(amount)
        if whole % CENTIGRAM_10 == 0:
            return mg_to_kg(whole).quantize(Decimal("0.01"))
        return mg_to_kg(whole)
    if uom == "mm":
        return Decimal(round(amount)).scaleb(-3)
    pieces = Decimal(round(amount * 1000)).scaleb(-3)
    return pieces.to_integral_value() if pieces == pieces.to_integral_value() else pieces.normalize()


def likely(bounds: Bounds, uom: str | None) -> Decimal | None:
    """The best figure in trade units: as recorded where the bounds meet; a model's share to the gram, since the model
    knows no better.
    """
    if bounds.best is None:
        return None
    best = in_trade_unit(bounds.best, uom)
    return best if bounds.least == bounds.most or uom != "mg" else best.quantize(Decimal("0.001"))


def unit_word(uom: str | None, amount: int | Fraction | None = None) -> str:
    """The trade unit; a single piece is one where the amount is known."""
    return {"mg": "kg", "pc": _("piece") if amount == 1 else _("pieces"), "mm": "m"}.get(uom or "", "")


def said(amount: int | None, uom: str | None) -> str:
    """ "12.19 kg", "8 pieces", or "an unknown amount"."""
    if amount is None:
        return _("an unknown amount")
    return f"{in_trade_unit(amount, uom)} {unit_word(uom, amount)}"
