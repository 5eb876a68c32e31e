"""The one thing a station asks for now, worked out from what is held: the same for every station.

A caution comes first, then what a pressed button still needs, the open slots, the fields asked for in their turn,
and last the button that goes on. Nothing is recorded by Enter while something asked for is empty.
"""

import re
from collections.abc import Sequence

from django.utils.translation import gettext as _

from trace.scan.page import Action, Asked, Field, Row
from trace.scan.sight import MANY, Next, Sight, Station, open_slot

PRESSED = "pressed"  # the button that was pressed while something it needs was not said yet
WITHOUT = "without"  # names of what there is none of, as somebody said
READ, NONE = "read", "without"  # what a press posts as `do`
UNASKED = ("checkbox", "photo", "hidden")
FIGURE = re.compile(r"[+-]?\d{0,6}([.,]\d*)?\s*(kg|g|mm|%|°?C|rpm|min)?", re.IGNORECASE)
WHOLE_CAUTION = re.compile(r"^(.+?)([:.]) +(.+)$", re.DOTALL)


def given(sight: Sight, field: Field) -> bool:
    """Whether a field is answered: filled in, chosen beforehand, or said to be without."""
    if field.kind == "reason":
        return bool(field.value or sight.text(field.name) or sight.text(f"{field.name}_words"))
    return bool((sight.text(field.name) or field.value).strip()) or field.name in without(sight)


def without(sight: Sight) -> tuple[str, ...]:
    return tuple(name for name in sight.held.get(WITHOUT, "").split(MANY) if name)


def say_without(sight: Sight, name: str) -> None:
    sight.held[WITHOUT] = MANY.join(dict.fromkeys((*without(sight), name)))


def in_turn(place: Station, sight: Sight, fields: Sequence[Field]) -> list[Field]:
    """The fields that are asked for, in order: those of the button that was pressed, those the station names now,
    else every one that is required or has a word for its absence."""
    by_name = {field.name: field for field in fields}
    pressed = pressed_now(place, sight)
    if pressed is not None:
        return [by_name[name] for name in pressed.needs if name in by_name]
    names = place.asks(sight)
    if names is not None:
        return [by_name[name] for name in names if name in by_name]
    return [field for field in fields if field.kind not in UNASKED and (field.required or field.without)]


def pressed_now(place: Station, sight: Sight) -> Action | None:
    """The button whose needs are being asked for."""
    pressed = sight.text(PRESSED)
    return next((a for a in place.actions(sight) if pressed and a.value == pressed and a.needs), None)


def wanting(place: Station, sight: Sight, fields: Sequence[Field]) -> Field | None:
    """The first field that is asked for and not answered."""
    return next((field for field in in_turn(place, sight, fields) if not given(sight, field)), None)


def said_so_far(place: Station, sight: Sight, fields: Sequence[Field]) -> tuple[Row, ...]:
    """What is asked for one after the other, with what was answered: where a station has nothing else to show of its
    work, nobody has to remember what was said three screens ago."""
    turn = in_turn(place, sight, fields)
    if len(turn) < 2:
        return ()
    now = wanting(place, sight, fields)
    return tuple(Row(one.label, _answer(sight, one), given(sight, one), now=one is now) for one in turn)


def _answer(sight: Sight, field: Field) -> str:
    if field.name in without(sight):
        return field.without
    value = sight.text(field.name) or field.value
    chosen = next((choice.label for choice in field.choices if choice.value == value), "")
    return chosen or " ".join(part for part in (value, field.unit) if value and part)


def asked_now(place: Station, sight: Sight, fields: Sequence[Field], *, unread: bool = False, again: str = "") -> Asked:
    """What the page asks. `fields` are those of the station with their values and errors; `again` is the figure that
    was refused and is typed anew."""
    if unread:
        head, rest = caution(str(place.caution))
        return Asked("read", head, rest, _("I have read it"), READ)
    actions = place.actions(sight)
    shown = tuple(action for action in actions if not action.below)
    slot = open_slot(place, sight) if pressed_now(place, sight) is None else None
    turn = in_turn(place, sight, fields)
    field = _typed_anew(sight, fields, again)
    then = place.next(sight)
    if slot is not None:
        if field is not None:
            return _for_field(field, None, shown, turn)
        return _for_code(then or Next(slot.ask), "" if then else slot.detail, shown)
    field = field or next((f for f in turn if not given(sight, f)), None)
    if field is not None:
        return _for_field(field, then, shown, turn)
    if then is not None and then.how == "scan":
        return _for_code(then, "", shown)
    return _for_press(place, sight, then, shown)


def _typed_anew(sight: Sight, fields: Sequence[Field], again: str) -> Field | None:
    """What comes before all else: a field with an error, the time of what is told late, a figure that was refused."""
    wrong = next((f for f in fields if f.error and f.kind not in UNASKED), None)
    late = next((f for f in fields if f.kind == "when" and not given(sight, f)), None)
    return wrong or late or next((f for f in fields if f.name == again), None)


def _for_field(field: Field, then: Next | None, actions: tuple[Action, ...], turn: Sequence[Field]) -> Asked:
    choosing = field.kind in ("choice", "reason", "when")
    sentence = field.ask or (str(then.sentence) if then else field.label)
    detail = field.hint if field.ask or then is None else str(then.detail)
    if field.kind == "when":
        detail = ""  # it stands at the picker
    none = (Action("do", NONE, field.without),) if field.without else ()
    beside = tuple(action for action in actions if action.style != "main")
    step = ""
    told = [one for one in turn if one.kind not in ("choice", "reason", "when")]
    if field in told and len(told) > 1:
        step = _("%(n)d of %(all)d") % {"n": told.index(field) + 1, "all": len(told)}
    return Asked(
        "choose" if choosing else "type", sentence, detail, field.gives or _("Enter"), field.enter, field,
        actions=(*none, *beside), step=step,
    )  # fmt: skip


def _for_code(then: Next, detail: object, actions: tuple[Action, ...]) -> Asked:
    return Asked("scan", str(then.sentence), str(then.detail or detail), _("Enter"), actions=actions)


def _for_press(place: Station, sight: Sight, then: Next | None, actions: tuple[Action, ...]) -> Asked:
    """The button that goes on; where there is none, whatever may be scanned next."""
    main = next((action for action in actions if action.style == "main"), None) or next(iter(actions), None)
    if main is None:
        words = then or Next(_("Scan the next") if place.takes_code else _("Fill this in and send it"))
        if place.takes_code:
            return _for_code(words, "", ())
        if not place.fields(sight):
            return Asked("press", str(words.sentence), str(words.detail))
        send = Action("do", "send", _("Send"), "main")
        return Asked("press", str(words.sentence), str(words.detail), send.label, "send", actions=(send,))
    others = tuple(action for action in actions if action is not main)
    sentence, detail = (str(then.sentence), str(then.detail)) if then else (main.label, "")
    enter = main.value if main.bare and main.style == "main" else "send"
    return Asked("press", sentence, detail, main.label, enter, actions=(main, *others))


def caution(words: str) -> tuple[str, str]:
    """(its first words, the rest): the first stand on one line once the whole was read."""
    found = WHOLE_CAUTION.match(words)
    if found is None:
        return words, ""
    rest = found[3]
    return found[1] + ("." if found[2] == "." else ""), rest[:1].upper() + rest[1:]


def is_figure(text: str) -> bool:
    """Whether a text can be meant as a figure; anything else typed where one is asked for may be a code."""
    return FIGURE.fullmatch(text.strip()) is not None
