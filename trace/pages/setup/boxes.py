"""The boxes of a form, made from the fields of a kind, and what was typed into them read back into a body."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from django.http import QueryDict
from django.utils.translation import gettext as _

from plant.access import role_words
from plant.kinds.faults import Fault
from plant.kinds.kind import Kind
from plant.kinds.shapes import ByName, Day, Every, Field, Number, OneOf, Parts, Ref, Shape, Whole, YesNo
from plant.kinds.table import NAMED
from trace.readmodels.plantdata import Directory, Thing

BoxKind = Literal["text", "number", "whole", "day", "tick", "choice", "ticks", "lines", "boxes", "rows"]
# Rows left empty under those that are filled.
EMPTY_ROWS = 3
Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Box:
    """One thing a form asks for: contract of templates/pages/setup/box.html.

    ticks: `chosen` are ticked of `choices`. lines: one text a line. boxes: `inner`, one a name. rows: `rows` of
    boxes. faults: what is wrong in it, with all that stands inside.
    """

    name: str
    label: str
    kind: BoxKind
    about: str = ""
    unit: str = ""
    needed: bool = False
    value: str = ""
    choices: Choices = ()
    chosen: frozenset[str] = frozenset()
    inner: tuple["Box", ...] = ()
    rows: tuple[tuple["Box", ...], ...] = ()
    faults: tuple[Fault, ...] = ()


def boxes(kind: Kind, body: Mapping[str, Any], plant: Directory, faults: list[Fault]) -> tuple[Box, ...]:
    """The form of a kind, filled with a body. A field that only stations fill in is shown where it is filled."""
    return tuple(
        _box(one, one.name, body.get(one.name), plant, faults)
        for one in kind.all_fields
        if not one.by_station or body.get(one.name)
    )


def _box(field: Field, name: str, value: Any, plant: Directory, faults: list[Fault]) -> Box:
    shape = field.shape
    box = Box(
        name, _(field.name.replace("_", " ")), _plain(shape), str(field.about), field.unit, field.needed, _text(value),
        faults=tuple(f for f in faults if f.where == name or f.where.startswith(f"{name} ")),
    )  # fmt: skip
    if isinstance(shape, Every):
        return _several(box, shape.inner, value if isinstance(value, list) else [], plant)
    if isinstance(shape, ByName) and shape.keys is not None:
        given = value if isinstance(value, dict) else {}
        keys = _choices(shape.keys, plant, frozenset(given))
        inner = (Box(f"{name}.{key}", words, _plain(shape.inner), value=_text(given.get(key))) for key, words in keys)
        return replace(box, kind="boxes", value="", inner=tuple(inner))
    if isinstance(shape, OneOf | Ref):
        return replace(box, kind="choice", choices=_choices(shape, plant, frozenset({box.value} - {""})))
    return box


def _several(box: Box, inner: Shape, values: list[Any], plant: Directory) -> Box:
    """The box of a list: rows of boxes, words to tick, or one text a line."""
    if isinstance(inner, Parts):
        given: list[dict[str, Any]] = [one for one in values if isinstance(one, dict)]
        rows = tuple(
            tuple(_box(part, f"{box.name}.{n}.{part.name}", row.get(part.name), plant, []) for part in inner.fields)
            for n, row in enumerate([*given, *({} for _n in range(EMPTY_ROWS))])
        )
        return replace(box, kind="rows", value="", rows=rows)
    if isinstance(inner, OneOf | Ref):
        chosen = frozenset(map(str, values))
        return replace(box, kind="ticks", value="", choices=_choices(inner, plant, chosen), chosen=chosen)
    return replace(box, kind="lines", value="\n".join(map(str, values)))


def _plain(shape: Shape) -> BoxKind:
    found: BoxKind = "text"
    if isinstance(shape, YesNo):
        found = "tick"
    elif isinstance(shape, Number):
        found = "number"
    elif isinstance(shape, Whole):
        found = "whole"
    elif isinstance(shape, Day):
        found = "day"
    return found


def _text(value: Any) -> str:
    return "" if value is None or value is False else "yes" if value is True else str(value)


def _choices(shape: OneOf | Ref, plant: Directory, chosen: frozenset[str]) -> Choices:
    """What there is to choose: things in use, and what is chosen already, whatever became of it."""
    if isinstance(shape, OneOf):
        return tuple((word, role_words(word)) for word in shape.all())
    things = [t for t in plant.of_kind(shape.kind) if t.key in chosen or (not t.ended and _fits(t, shape))]
    known = {t.key for t in things}
    gone = tuple((key, _("%(key)s (not known)") % {"key": key}) for key in sorted(chosen - known) if key)
    return tuple((t.key, _called(t)) for t in things) + gone


def _fits(thing: Thing, shape: Ref) -> bool:
    return all(thing.body.get(field) in values for field, values in shape.only.items())


def _called(thing: Thing) -> str:
    name = thing.body.get("name")
    # The name of a person or consignee is a digest here; their key is what people write.
    return f"{thing.key}: {name}" if name and thing.kind not in NAMED and name != thing.key else thing.key


def typed(kind: Kind, post: QueryDict, known: Mapping[str, Any]) -> dict[str, Any]:
    """The body that was typed into the boxes, not yet judged; what was left empty is left out.

    Where the thing had an empty value before, it keeps it, and so does a list of the same words in another order:
    neither is a change. A field that only stations fill in stays as it is.
    """
    body: dict[str, Any] = {}
    for one in kind.all_fields:
        found = _said_for(one, post, known)
        if _empty(found):
            if one.name in known and _empty(known[one.name]):
                body[one.name] = known[one.name]
            elif one.needed and isinstance(one.shape, Every | ByName):
                body[one.name] = found
        else:
            body[one.name] = known[one.name] if _same_words(found, known.get(one.name)) else found
    return body


def _said_for(one: Field, post: QueryDict, known: Mapping[str, Any]) -> Any:
    """What was typed for one field; what only stations fill in and was not asked for is as it was."""
    if one.by_station and one.name not in post:
        return known.get(one.name)
    return _read(one.shape, one.name, post)


def _same_words(found: Any, known: Any) -> bool:
    """Two lists of words that are ticked: the order of the boxes says nothing."""
    both = isinstance(found, list) and isinstance(known, list)
    return both and all(isinstance(x, str) for x in (*found, *known)) and sorted(found) == sorted(known)


def _read(shape: Shape, name: str, post: QueryDict) -> Any:
    """What was typed for one shape: a list, a value by each name, or a single value."""
    if isinstance(shape, Every):
        return _read_list(shape.inner, name, post)
    if isinstance(shape, ByName):
        inside = [key for key in post if key.startswith(f"{name}.")]
        found = {key.removeprefix(f"{name}."): _one(shape.inner, str(post[key])) for key in inside}
        return {key: value for key, value in found.items() if not _empty(value)}
    return _one(shape, post.get(name, ""))


def _read_list(inner: Shape, name: str, post: QueryDict) -> list[Any]:
    """Rows of boxes, choices that are ticked, or else a line for each."""
    if isinstance(inner, Parts):
        return list(_rows(inner, name, post))
    if isinstance(inner, OneOf | Ref):
        return [text for text in post.getlist(name) if text]
    return [line.strip() for line in post.get(name, "").splitlines() if line.strip()]


def _rows(parts: Parts, name: str, post: QueryDict) -> Iterator[dict[str, Any]]:
    numbers = {key.split(".")[1] for key in post if key.startswith(f"{name}.") and key.count(".") == 2}
    for n in sorted((n for n in numbers if n.isascii() and n.isdecimal() and len(n) < 5), key=int):
        row = {part.name: _one(part.shape, post.get(f"{name}.{n}.{part.name}", "")) for part in parts.fields}
        if filled := {key: value for key, value in row.items() if not _empty(value)}:
            yield filled


def _empty(value: Any) -> bool:
    """Whether nothing was said; a figure of 0 was."""
    return value is None or value is False or value in ("", [], {})


def _one(shape: Shape, text: str) -> Any:
    text = text.strip()
    if isinstance(shape, YesNo):
        return text == "yes"
    if isinstance(shape, Whole) and text.removeprefix("-").isascii() and text.removeprefix("-").isdecimal():
        return int(text[:17])
    return text
