"""The calibrations of an instrument: a small chart of errors against limits, with the table that says the same."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes.calibrated import UNITS, Point
from trace.drawings.errors import Off, errors_against_limits
from trace.genealogy.calibrations import Calibration, calibrations
from trace.pages.sheets import Drawn
from trace.sheets.addresses import scope_page
from trace.sheets.facts.days import day_said
from trace.sheets.facts.notes import Notes, notes

SHOWN_IN = {"kg": "kg", "mm": "mm", "C": "°C"}
MOST = 12  # calibrations drawn and listed; the history below has all


def drawn_calibrations(key: str, body: Mapping[str, Any], asked: datetime | None) -> Drawn | None:
    """None where none is recorded of it by then, or what it is has none."""
    unit = SHOWN_IN.get(UNITS.get(str(body.get("kind")), ""))
    told = calibrations(key, asked)[-MOST:] if unit else []
    if unit is None or not told:
        return None
    title = _("Calibrations: error against limit")
    offs = [
        Off(timezone.localdate(one.happened), p.reference, p.found_off, p.left_off, p.found_limit, p.left_limit)
        for one in told for p in one.points
    ]  # fmt: skip
    written = notes(one.says.get("done_by") for one in told)
    head = (_("Calibration"), _("At"), _("Off by"), _("Limit"), _("It was"))
    rows = tuple(row for one in reversed(told) for row in _rows(one, unit, written))
    return Drawn(title, head, rows, sketch=errors_against_limits(offs, unit, title))


def _rows(one: Calibration, unit: str, written: Notes) -> Sequence[tuple[tuple[str, str], ...]]:
    says = one.says
    unsure = _("uncertainty %(u)s %(unit)s, k = %(k)s") % {"u": says["uncertainty"], "unit": unit, "k": says["k"]}
    parts = (
        day_said(f"{timezone.localtime(one.happened):%Y-%m-%d}"), says["certificate"], written.text(says["done_by"]),
        says["reference"], unsure if says["uncertainty"] else _("no uncertainty recorded"),
    )  # fmt: skip
    first = ", ".join(part for part in parts if part)
    return [
        (
            ("" if n else first, ""), (f"{p.reference} {unit}", ""), (_off(p), ""),
            (f"± {_limit(p.found_limit)}", ""), _found(one, p),
        )
        for n, p in enumerate(one.points)
    ]  # fmt: skip


def _off(point: Point) -> str:
    if point.left == point.found:
        return f"{point.found_off:+}"
    return _("%(found)s, left %(left)s") % {"found": f"{point.found_off:+}", "left": f"{point.left_off:+}"}


def _limit(limit: Decimal | None) -> str:
    return _("none recorded") if limit is None else f"{limit}"


def _found(one: Calibration, point: Point) -> tuple[str, str]:
    if point.found_limit is None:
        return _("not judged"), ""
    if abs(point.found_off) <= point.found_limit:
        return _("within its limit"), ""
    followed = _("outside; nobody has followed it up") if one.open else _("outside; followed up")
    return followed, scope_page(one.cause)
