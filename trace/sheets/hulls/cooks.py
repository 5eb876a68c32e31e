"""The cooks of a hull: each cycle with its stages as planned and as seen; cooked twice, two records."""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes.formulas import FormulaError, speed_ratio
from trace.sheets.asks import like, same
from trace.sheets.contracts import CycleRecord, StageLine
from trace.sheets.facts.entries import Entry
from trace.sheets.hulls.gathered import Gathered


def cycles(gathered: Gathered) -> tuple[CycleRecord, ...]:
    """Every cycle in which a load, moulding or the hull itself was, oldest first."""
    units = {n.uid for n in gathered.cooked}
    starts = [(entry, row) for entry in gathered.entries for row in entry.part("cooks") if row["unit"] in units]
    return tuple(_cycle(gathered, entry, row, starts) for entry, row in starts)


def _cycle(
    gathered: Gathered, start: Entry, cook: Mapping[str, Any], starts: list[tuple[Entry, Mapping[str, Any]]]
) -> CycleRecord:
    unit = cook["unit"]
    next_start = min(
        (e.happened for e, row in starts if row["unit"] == unit and e.happened > start.happened), default=None
    )
    own = [
        e
        for e in gathered.entries
        if e.kind in ("cook_stage", "cook_ended", "cooled", "cook_aborted")
        and any(row["unit"] == unit for row in e.part("touches"))
        and e.happened >= start.happened
        and (next_start is None or e.happened < next_start)
    ]
    end = next((e for e in own if e.kind == "cook_ended"), None)
    recipe: Mapping[str, Any] = gathered.recipe.get("cook", {})  # type: ignore[assignment]
    number = next((row["number"] for row in start.part("cycles") if row["uid"] == cook["cycle"]), "?")
    return CycleRecord(
        number=number,
        oven=str(start.says["oven"]),
        arm=_("arm %(arm)s") % {"arm": start.says["arm"]},
        began=start.happened,
        ended=end.happened if end else None,
        log=_log(start, end),
        peak=_peak(end, recipe),
        oven_cause=same("oven", start.says["oven"]),
        arm_cause=same("arm", start.says["arm"]),
        peak_cause=like("peak", end.says.get("piat")) if end else "",
        stages=_stages(start, own, end, recipe),
        note=_note(start, own, recipe),
    )


def _log(start: Entry, end: Entry | None) -> str:
    if end is None or end.says.get("log") != "attached":
        return ""
    loggers = ", ".join(start.resources("logger"))
    return _("log of logger %(logger)s") % {"logger": loggers} if loggers else _("log attached")


def outside(text: str, limits: list[str]) -> bool:
    """Whether a temperature is outside [low, high]; one that cannot be read is not said to be."""
    try:
        return not Decimal(limits[0]) <= Decimal(text) <= Decimal(limits[1])
    except (InvalidOperation, IndexError):
        return False


def _peak(end: Entry | None, recipe: Mapping[str, Any]) -> str:
    if end is None or not end.says.get("piat"):
        return ""
    limits = list(recipe.get("piat_c") or [])
    said = f"{end.says['piat']} °C"
    if len(limits) == 2:
        said += _(" (%(low)s to %(high)s)") % {"low": limits[0], "high": limits[1]}
    return said + (_(" OUTSIDE") if outside(end.says["piat"], limits) else "")


def _stages(
    start: Entry, own: list[Entry], end: Entry | None, recipe: Mapping[str, Any]
) -> tuple[StageLine, ...]:
    """The recipe's stages in order with what was seen of each, then what came besides (a stop, mist, air)."""
    seen: dict[str, list[Entry]] = {}
    for entry in own:
        if entry.kind == "cook_stage":
            seen.setdefault(str(entry.says["stage"]), []).append(entry)
    planned = [str(s) for s in recipe.get("stages", [])]
    at_end = set(end.says.get("stages") or ()) if end else set()
    lines = []
    for n, name in enumerate(dict.fromkeys([*planned, *seen])):
        plan = _("stage %(n)d") % {"n": n + 1} if name in planned else _("not in the recipe")
        lines.append(_stage(start, name, seen.get(name, []), plan, at_end=name in at_end))
    return tuple(lines)


def _stage(start: Entry, name: str, seen: list[Entry], plan: str, *, at_end: bool) -> StageLine:
    """One stage with all that was seen of it; `at_end`: it was named when the cook was ended."""
    words = "; ".join(_seen(e) for e in seen)
    if not words and at_end:
        words = _("named at the end of the cook")
    said = [str(e.says["planned"]) for e in seen if e.says.get("planned")]
    missed = any(not e.says.get("observed", True) for e in seen)
    after = "; ".join(_after(start, e) for e in seen) or words
    read = [e.says["temperature"] for e in seen if e.says.get("temperature")]
    cause = like("stage", read[-1], name) if read else ""
    return StageLine(name, ", ".join(said) or plan, words, missed or name == "stopped", after, cause)


def _seen(entry: Entry) -> str:
    return _said_of(entry, f"{timezone.localtime(entry.happened):%H:%M}")


def _after(start: Entry, entry: Entry) -> str:
    minutes = round((entry.happened - start.happened).total_seconds() / 60)
    return _said_of(entry, _("%(n)d min after the start") % {"n": minutes})


def _said_of(entry: Entry, at: str) -> str:
    if not entry.says.get("observed", True):
        return _("%(at)s, not seen") % {"at": at}
    temperature, minutes = entry.says.get("temperature"), entry.says.get("minutes")
    said = f"{at}, {temperature} °C" if temperature else at
    return f"{said}, {_('%(n)s minutes') % {'n': minutes}}" if minutes else said


def _note(start: Entry, own: list[Entry], recipe: Mapping[str, Any]) -> str:
    parts = []
    says = start.says
    if says.get("units"):
        parts.append(_("Cooked again."))
    if says.get("set_c"):
        parts.append(_("Oven set to %(c)s °C.") % {"c": says["set_c"]})
    if says.get("arm_rpm") and says.get("plate_rpm"):
        parts.append(_rotation(str(says["arm_rpm"]), str(says["plate_rpm"])))
    for entry in own:
        if entry.kind == "cooled":
            limit = recipe.get("demould_max_c")
            seen = entry.says.get("demould_c")
            parts.append(
                _("%(c)s °C at demould (limit %(limit)s °C).") % {"c": seen, "limit": limit or "?"}
                if seen
                else _("Temperature at demould not read.")
            )
        if entry.kind == "cook_aborted":
            parts.append(_("Given up."))
    return " ".join(parts)


def _rotation(arm: str, plate: str) -> str:
    try:
        ratio = speed_ratio(Decimal(arm), Decimal(plate))
    except (FormulaError, InvalidOperation):
        return _("Arm %(arm)s rpm, plate %(plate)s rpm.") % {"arm": arm, "plate": plate}
    return _("Arm %(arm)s rpm, plate %(plate)s rpm on the shaft: ratio arm / (plate − arm) %(ratio)s.") % {
        "arm": arm, "plate": plate, "ratio": f"{ratio.quantize(Decimal('0.01')).normalize():f}",
    }  # fmt: skip
