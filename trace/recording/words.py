"""How amounts, times and holds are said in one sentence, and where names stand in for digests."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone

from trace.codes import mg_to_kg
from trace.readmodels.rows import moment
from trace.recording.floor import UnitFacts
from trace.recording.rules_table import BY_CODE


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


def holds(unit: UnitFacts | None) -> str:
    """One line for the oldest hold on a unit: what it was laid on, if something else; reason, who, when; or ''."""
    if unit is None or not unit.holds:
        return ""
    first = unit.holds[0]
    if not first["happened"]:
        return "a hold that is still being spread"
    of = f"{first['of']}: " if first["on"] != unit.id and first["of"] else ""
    return f"{of}{why(first)}, {person(first['person'])}, {clock(first['happened'])}"


def why(hold: Mapping[str, Any]) -> str:
    """The reason somebody gave for a hold, or what the rule says that laid it by itself."""
    if hold["why"]:
        return note(hold["why"])
    rule = BY_CODE.get(hold["rule"])
    if rule is None:
        return f"rule {hold['rule']}"
    # The sentence of a finding names its figures; only the records of that scan know them.
    text = rule.why if "{" in rule.what else rule.what
    return f"{text.rstrip('.')} ({rule.code})" if "{" not in text else f"rule {rule.code}"


def lot_name(about: dict[str, Any], lot_no: str | None) -> str:
    return f"{about.get('material', 'unknown material')} lot {lot_no or 'unknown'}"
