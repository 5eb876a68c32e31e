"""What the body of each kind of plant data must have; says in one sentence what is wrong with one.

The shapes themselves are described in DEVELOPERS.md. Fields beyond these are kept as they are written.
"""

import json
import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from plant.access import ROLES
from trace.chain import canonical
from trace.codes.plant_day import USUAL, CalendarError, read_calendar
from trace.recording.rules.engine import VERDICTS

Body = Mapping[str, Any]
DECIMAL = re.compile(r"[0-9]{1,12}(\.[0-9]{1,9})?")
CLOCK = re.compile("([01][0-9]|2[0-3]):[0-5][0-9]")
HEX = re.compile("#[0-9a-fA-F]{6}")
LONGEST = 200_000
LONGEST_INT = 17  # signs of the least number that canonical JSON holds, its minus among them


class ShapeError(ValueError):
    """The body cannot be kept; the text is one sentence."""


def read(kind: str, text: str) -> dict[str, Any]:
    """The body that a form's text holds. Raises ShapeError."""
    if len(text) > LONGEST:
        raise ShapeError(_("This is more than %(n)d signs: too much for one thing.") % {"n": LONGEST})
    try:
        body = json.loads(text, parse_int=_short_int, parse_float=_no_float, parse_constant=_no_float)
    except json.JSONDecodeError as error:
        raise ShapeError(
            _("Line %(line)d cannot be read: %(why)s.") % {"line": error.lineno, "why": error.msg.lower()}
        ) from None
    except RecursionError:
        raise ShapeError(_("This is nested too deeply.")) from None
    if not isinstance(body, dict):
        raise ShapeError(_('The whole must stand in braces: {"name": …}.'))
    try:
        canonical(body)
    except ValueError as error:
        raise ShapeError(_("This cannot be kept as it is written: %(why)s") % {"why": error}) from None
    check(kind, body)
    return body


def _no_float(text: str) -> Any:
    raise ShapeError(_('Write the number %(n)s in quotes, as "%(n)s": it is kept digit by digit.') % {"n": text})


def _short_int(text: str) -> int:
    # Python itself refuses to read a number of some thousand digits; one beyond 2^53 is refused by canonical().
    return int(text) if len(text) <= LONGEST_INT else _no_float(f"{text[:LONGEST_INT]}…")


def check(kind: str, body: Body) -> None:
    """Raises ShapeError where a field is missing or cannot be read as what it is."""
    _fields("", body, SHAPES.get(kind, {}))
    if kind == "product":
        _drawing(body.get("drawing"))


def _fields(inside: str, body: Body, shape: Mapping[str, Callable[[str, Any], None]]) -> None:
    for name, reader in shape.items():
        part = name.removeprefix("?")
        field = f"{inside} {part}".lstrip()
        if part in body and not (part != name and body[part] is None):
            reader(field, body[part])
        elif part == name:
            raise ShapeError(_("“%(field)s” is missing.") % {"field": field})


def _wrong(field: str, wanted: str) -> ShapeError:
    return ShapeError(_("“%(field)s” must be %(wanted)s.") % {"field": field, "wanted": wanted})


def _text(field: str, value: Any) -> None:
    if not isinstance(value, str) or not value.strip():
        raise _wrong(field, _("a text in quotes"))


def _any_text(field: str, value: Any) -> None:
    if not isinstance(value, str):
        raise _wrong(field, _("a text in quotes"))


def _number(field: str, value: Any) -> None:
    """A decimal as text, above zero; kept digit by digit."""
    if not isinstance(value, str) or not DECIMAL.fullmatch(value) or Decimal(value) == 0:
        raise _wrong(field, _('a number in quotes, as "12.20"'))


def _density(field: str, value: Any) -> None:
    ends = value if isinstance(value, list) else [value]
    if len(ends) not in (1, 2):
        raise _wrong(field, _("one number or [least, most]"))
    for end in ends:
        _number(field, end)


def _whole(field: str, value: Any) -> None:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise _wrong(field, _("a whole number"))


def _day(field: str, value: Any) -> None:
    try:
        good = isinstance(value, str) and len(value) == len("2027-03-01") and value == f"{date.fromisoformat(value)}"
    except ValueError:
        good = False
    if not good:
        raise _wrong(field, _('a day, as "2027-03-01"'))


def _until(field: str, value: Any) -> None:
    """A day, or the time at which a day badge ends."""
    try:
        aware = isinstance(value, str) and datetime.fromisoformat(value).tzinfo is not None
    except ValueError:
        aware = False
    if not aware:
        _day(field, value)


def _texts(field: str, value: Any) -> None:
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        raise _wrong(field, _('a list of texts, as ["T430"]'))


def _one_of(*words: str) -> Callable[[str, Any], None]:
    def read_word(field: str, value: Any) -> None:
        if value not in words:
            raise _wrong(field, _("one of %(words)s") % {"words": ", ".join(words)})

    return read_word


def _roles(field: str, value: Any) -> None:
    _texts(field, value)
    unknown = sorted(set(value) - set(ROLES))
    if unknown:
        raise ShapeError(
            _("“%(role)s” is no role: there are %(roles)s.") % {"role": unknown[0], "roles": ", ".join(ROLES)}
        )


def _trained(field: str, value: Any) -> None:
    if not isinstance(value, dict):
        raise _wrong(field, _('tasks with their last day, as {"weighing": "2027-06-30"}'))
    for task, day in value.items():
        _day(f"{field} {task}", day)


def _share(field: str, value: Any) -> None:
    if value != "0":
        _number(field, value)


def _colour(field: str, value: Any) -> None:
    if not isinstance(value, str) or not HEX.fullmatch(value):
        raise _wrong(field, _('a colour, as "#9fb1ba"'))


def _range(field: str, value: Any) -> None:
    if not isinstance(value, list) or len(value) != 2:
        raise _wrong(field, _('least and most, as ["3.2", "3.8"]'))
    for end in value:
        _number(field, end)
    if Decimal(value[0]) > Decimal(value[1]):
        raise _wrong(field, _('least and most, as ["3.2", "3.8"]'))


def _map(field: str, value: Any) -> None:
    if not isinstance(value, dict):
        raise _wrong(field, _("names with values in braces"))


def _map_of(reader: Callable[[str, Any], None]) -> Callable[[str, Any], None]:
    def read_map(field: str, value: Any) -> None:
        _map(field, value)
        for name, inner in value.items():
            reader(f"{field} {name}", inner)

    return read_map


def _with(shape: Mapping[str, Callable[[str, Any], None]]) -> Callable[[str, Any], None]:
    def read_fields(field: str, value: Any) -> None:
        _map(field, value)
        _fields(field, value, shape)

    return read_fields


def _layers(field: str, value: Any) -> None:
    if not isinstance(value, list) or not all(isinstance(layer, dict) for layer in value):
        raise _wrong(field, _("a list of layers, outside first"))
    for n, layer in enumerate(value, 1):
        for part, reader in (("name", _text), ("material", _text), ("target_kg", _number), ("tolerance_kg", _number)):
            if part not in layer:
                raise ShapeError(_("Layer %(n)d has no “%(part)s”.") % {"n": n, "part": part})
            reader(f"{part} of layer {n}", layer[part])


def _lines(field: str, value: Any) -> None:
    if not isinstance(value, list) or not value or not all(isinstance(line, dict) for line in value):
        raise _wrong(field, _("a list of lines"))
    for n, line in enumerate(value, 1):
        for part in ("product", "colour", "quantity"):
            if part not in line:
                raise ShapeError(_("Line %(n)d has no “%(part)s”.") % {"n": n, "part": part})
        _whole(f"quantity of line {n}", line["quantity"])


def _drawing(drawing: Any) -> None:
    """Outline and places are drawn from this: its numbers must be numbers."""
    if drawing is None:
        return
    if not isinstance(drawing, dict) or not isinstance(drawing.get("outline"), str):
        raise _wrong("drawing", _("a drawing with its box and outline"))
    sizes = [("box", drawing.get("box"), 2)]
    for part, word, many in (("positions", "position", 2), ("graphics", "graphic", 4), ("zones", "zone", 2)):
        places = drawing.get(part, {})
        _map(f"{part} of the drawing", places)
        sizes += [(f"{word} {n}", at, many) for n, at in places.items()]
    for name, at, many in sizes:
        if not isinstance(at, list) or len(at) != many or not all(isinstance(x, int) for x in at):
            raise ShapeError(_("In the drawing, %(name)s needs %(many)d whole numbers.") % {"name": name, "many": many})


# A field with "?" before it may be left out.
SHAPES: dict[str, dict[str, Callable[[str, Any], None]]] = {
    "product": {
        "name": _text, "area_m2": _number, "layers": _layers, "?colours": _map_of(_colour),
        "?inserts": _map_of(_text), "?graphics": _map_of(_with({"artwork": _text, "revision": _text})),
        "?zones": _map_of(_with({"least_mm": _number})),
        "?cook": _with({
            "ovens": _texts, "stages": _texts, "?cooling": _texts, "?piat_c": _range, "?demould_max_c": _number,
            "?set_c": _range, "?arm_rpm": _range, "?plate_rpm": _range, "?ratio": _range,
        }),
        "hull_number": _with({"format": _one_of("plant", "us"), "?prefix": _any_text, "?maker": _text}),
        "?checks": _texts, "?cavities": _texts, "?mass": _with({"?flash_kg": _number, "?fittings_kg": _number}),
    },
    "material": {
        "name": _text, "?density": _density,
        "kind": _one_of("powder", "foam", "insert", "graphic", "pigment", "part", "release agent"),
        "?bulk_density": _number, "?shelf_days": _whole, "?open_days": _whole,
        "?spec": _map_of(_range), "?fill_tolerance": _share, "?colour": _colour, "?artwork": _text, "?revision": _text,
    },
    "mould": {
        "products": _texts, "arms": _texts, "?cavities": _texts,
        "state": _one_of("in service", "first-off due", "on hold"), "?service_every": _whole, "?vent_every": _whole,
        "?release_every": _whole, "?logger": _text,
    },
    "machine": {
        "kind": _one_of("oven", "arm"), "state": _one_of("in service", "locked out"), "?calibration_due": _day,
        "?oven": _text,
    },
    "instrument": {
        "kind": _one_of("scale", "gauge", "logger", "thermometer"), "?calibration_due": _day, "?check_mass": _number,
        "?check_tolerance": _number,
    },
    "supplier": {"name": _text, "materials": _texts},
    "place": {"name": _text, "kind": _text, "?max_kg": _number, "?levels": _whole},
    "person": {"roles": _roles, "?trained": _trained, "?until": _until},
    "works_order": {
        "product": _text, "colour": _text, "quantity": _whole, "purpose": _one_of("production", "trial", "purge"),
    },
    "sales_order": {"consignee": _text, "lines": _lines},
    "consignee": {},
    "device": {"name": _text},
    "setting": {},
}  # fmt: skip


def _times(field: str, value: Any) -> None:
    _texts(field, value)
    if not value or not all(CLOCK.fullmatch(one) for one in value):
        raise _wrong(field, _('a list of times of day, as ["06:00", "14:00"]'))


def _shifts(_field: str, value: Any) -> None:
    try:
        read_calendar(value, [], UTC)
    except CalendarError as error:
        raise ShapeError(str(error)) from None


def _holidays(_field: str, value: Any) -> None:
    try:
        read_calendar(USUAL, value, UTC)
    except CalendarError as error:
        raise ShapeError(str(error)) from None


SETTINGS: dict[str, Callable[[str, Any], None]] = {
    "bind within minutes": _whole, "fill tolerance": _share, "shift ends": _times, "tub litres": _number,
    "drop box litres": _number, "tub tare kg": _number, "drop box tare kg": _number, "tare tolerance kg": _number,
    "shifts": _shifts, "holidays": _holidays, "plant-name": _text, "plant-contact": _text,
}  # fmt: skip


def check_setting(key: str, body: Body) -> None:
    """A rule's setting says a verdict, one that is reckoned with a number. Raises ShapeError."""
    if "value" not in body:
        raise ShapeError(_("“value” is missing."))
    if key.startswith("rule:"):
        _one_of(*VERDICTS)("value", body["value"])
    elif key in SETTINGS:
        SETTINGS[key]("value", body["value"])
