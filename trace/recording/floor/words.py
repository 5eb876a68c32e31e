"""How amounts and times are said in one sentence, and where names stand in for digests."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone

from trace.codes import mg_to_kg
from trace.readmodels.rows import moment


def kg(mg: int | None) -> str:
    """12.20 kg, or the pieces of it that matter."""
    if mg is None:
        return "an unknown amount"
    return f"{mg_to_kg(mg).quantize(Decimal('0.01')) if mg % 10000 == 0 else mg_to_kg(mg)} kg"


def grams(mg: int) -> str:
    value = Decimal(mg) / 1000
    return f"{value.normalize():f} g" if value != value.to_integral() else f"{int(value)} g"


def mass(mg: int) -> str:
    """What something is off by: grams, and kilograms from one on."""
    return grams(mg) if mg < 1_000_000 else kg(mg)


def amount(value: int | None, uom: str | None) -> str:
    if uom == "mg":
        return kg(value)
    if value is None:
        return "an unknown number" if uom == "pc" else "an unknown amount"
    if uom == "pc":
        return "1 piece" if value == 1 else f"{value} pieces"
    return f"{value} {uom}"


def clock(when: datetime | str) -> str:
    """The plant's own time of day with its date: an answer is kept, and read on another day."""
    return timezone.localtime(moment(when) if isinstance(when, str) else when).strftime("%-d %b %H:%M")


def person(key: str) -> str:
    """Stands for a name: answers are kept for ever, names can be erased. speech.py puts the name in."""
    return f"⟦person:{key}⟧"


def note(digest: str | None) -> str:
    return f"⟦note:{digest}⟧" if digest else "no reason given"


def lot_name(about: dict[str, Any], lot_no: str | None) -> str:
    return f"{about.get('material', 'unknown material')} lot {lot_no or 'unknown'}"
