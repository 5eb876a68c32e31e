"""How a thing of the plant is drawn: a mould by its plan, a scale by its checks, a person by training, and the rest."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django.db import connection
from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes.positions import in_order
from trace.drawings import PositionState, mould_plans
from trace.drawings.sketch import Check, Until, checks_over_time, until_days
from trace.genealogy.live import known_by
from trace.pages.sheets import Drawn
from trace.pages.units.drawn_instrument import drawn_instrument
from trace.pages.units.drawn_machine import drawn_arm, drawn_oven
from trace.pages.units.drawn_order import drawn_order
from trace.pages.units.drawn_place import drawn_place
from trace.sheets.addresses import unit_url
from trace.sheets.facts.days import day_said
from trace.sheets.facts.entries import Entry, entries
from trace.sheets.facts.revisions import Revisions, revisions

Body = Mapping[str, Any]
# Instruments that are read and not weighed on.
MEASURING = ("gauge", "logger", "thermometer")
MOST_CHECKS = 40
CHECKS = """
SELECT e.id FROM event_resource x JOIN event e ON e.id = x.event AND e.kind = 'check_weighed'
WHERE x.resource = %(thing)s AND e.recorded <= %(known)s::timestamptz ORDER BY e.happened DESC, e.id DESC LIMIT %(most)s
"""


def drawn_thing(
    thing: int, kind: str, key: str, body: Body, asked: datetime | None, at: datetime
) -> Drawn | None:  # fmt: skip
    """The drawing of a thing with the table beside it, as known on the day asked for; None for what has no look of its
    own."""
    # Machines and instruments say themselves which they are.
    kind = str(body.get("kind")) if kind in ("machine", "instrument") else kind
    ways: dict[str, Callable[[], Drawn | None]] = {
        "mould": lambda: _mould(body, revisions([("product", one) for one in body.get("products") or []], at)),
        "scale": lambda: _scale(body, _checks(thing, at)),
        "person": lambda: _person(body, timezone.localdate(at)),
        "arm": lambda: drawn_arm(key, body, asked, at),
        "oven": lambda: drawn_oven(key, asked, at),
        "place": lambda: drawn_place(thing, key, body, asked),
        "works_order": lambda: drawn_order(thing, body, asked),
    }
    if kind in MEASURING:
        told = revisions([("instrument", key)], at).of.get(("instrument", key), ())
        return drawn_instrument(thing, told, asked, at)
    return ways[kind]() if kind in ways else None


def _mould(body: Body, plant: Revisions) -> Drawn | None:
    """The plan of the first model that it makes, each position with the part that goes there."""
    product = next(iter(body.get("products") or []), None)
    recipe = plant.newest("product", product)
    drawing = recipe.get("drawing")
    if not isinstance(drawing, Mapping):
        return None
    inserts: Mapping[str, str] = recipe.get("inserts") or {}
    graphics: Mapping[str, Mapping[str, str]] = recipe.get("graphics") or {}
    rows = [((name, ""), (str(inserts[name]), unit_url(str(inserts[name])))) for name in sorted(inserts, key=in_order)]
    said = _("artwork %(art)s, revision %(n)s")
    rows += [
        ((name, ""), (said % {"art": one.get("artwork", "?"), "n": one.get("revision", "?")}, ""))
        for name, one in sorted(graphics.items())
    ]
    return Drawn(
        _("Mould plan: %(model)s") % {"model": recipe.get("name") or product}, (_("Position"), _("Takes")), tuple(rows),
        plan=mould_plans(
            drawing,
            {name: PositionState("open", str(part)) for name, part in inserts.items()},
            {name: PositionState("open", str(one.get("artwork", ""))) for name, one in graphics.items()},
            title=str(recipe.get("name") or ""),
        ),
    )  # fmt: skip


def _checks(thing: int, at: datetime) -> list[Entry]:
    """The last check-weights of a scale, oldest first, each as it was put right by then."""
    with connection.cursor() as cursor:
        cursor.execute(CHECKS, {"thing": thing, "known": known_by(at), "most": MOST_CHECKS})
        ids = {event for (event,) in cursor.fetchall()}
    return entries(inner=set(), events=ids, as_known_on=at) if ids else []


def _scale(body: Body, told: Sequence[Entry]) -> Drawn | None:
    """Its last check-weights."""
    mass, tolerance = _number(body.get("check_mass")), _number(body.get("check_tolerance"))
    shown = [(one, _number(one.says.get("shown"))) for one in told if one.kind == "check_weighed"]
    if mass is None or not shown:
        return None
    checks = [
        Check(timezone.localtime(one.happened).date(), value - mass, abs(value - mass) <= (tolerance or 0))
        for one, value in shown
        if value is not None
    ]
    title = _("Check-weights: %(mass)s kg") % {"mass": mass}
    rows = tuple(
        ((day_said(one.day.isoformat()), ""), (f"{one.off:+} kg", ""), (_("passed") if one.passed else _("failed"), ""))
        for one in reversed(checks)
    )
    head = (_("Day"), _("Off by"), _("It"))
    return Drawn(title, head, rows, sketch=checks_over_time(checks, tolerance, title))


def _person(body: Body, today: date) -> Drawn | None:
    """Until when each training holds."""
    trained: Mapping[str, str] = body.get("trained") or {}
    if not trained:
        return None
    spans = [Until(task, _day(until)) for task, until in sorted(trained.items())]
    rows = tuple(
        ((one.label, ""), (day_said(one.day.isoformat()) if one.day else _("not recorded"), ""), (
            _("holds") if one.day and one.day > today else _("ended"), ""))
        for one in spans
    )  # fmt: skip
    title = _("Trained until")
    return Drawn(title, (_("Task"), _("Until"), _("It")), rows, sketch=until_days(spans, today, title))


def _number(text: object) -> Decimal | None:
    try:
        return Decimal(str(text)) if text not in (None, "") else None
    except InvalidOperation:
        return None


def _day(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None
