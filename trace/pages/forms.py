"""A form beside a desk's list: what it asks, who did what before, and all that is wrong with what was sent, at once."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from django.http import HttpRequest
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from plant.errors import NotUnderstood
from trace.codes import storable, uuid7
from trace.pages.asked import form_number
from trace.recording.commands import By, Command
from trace.recording.record import record
from trace.speech import speak

LONGEST = 2000  # characters of one value
FieldKind = Literal["text", "number", "choice", "tick", "words"]
Sent = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class FormField:
    """One box. choice: one of `choices` (value, words); tick: "yes" or nothing; words: several lines."""

    name: str
    label: str
    kind: FieldKind = "text"
    value: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    required: bool = False
    hint: str = ""
    unit: str = ""
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Before:
    """What somebody did before to the thing that is decided on; `you`: it was the person who asks now."""

    what: str
    who: str
    when: datetime | None
    you: bool = False


@dataclass(frozen=True, slots=True)
class Form:
    """Contract of templates/pages/parts/desk_form.html. `about`: the thing, in words; `stop`: it stops something."""

    act: str
    title: str
    button: str
    fields: tuple[FormField, ...]
    about: str = ""
    about_url: str = ""
    hint: str = ""
    before: tuple[Before, ...] = ()
    stop: bool = False
    key: str = ""
    scan_id: str = ""
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Act:
    """Something done with a thing of a list. `station`: who may open it may do this (plant/access.py).

    form: the boxes for a thing (its key, "" where the thing is typed), for this person (by key); None where there is no
    such thing. command: what is recorded of it. link: words of the way to it in a line; empty where
    it needs no line. roles: who may do it, where that is no station's right. when: the time at which it was done, by
    what was sent (None: now); raises ValueError with a sentence. after: what follows at once, by the command that was
    recorded and the person. lets_pass: the rules that the form lets pass, each with the reason that was written.
    """

    name: str
    station: str
    link: Promise | str
    form: Callable[[str, str], Form | None]
    command: Callable[[str, Sent], Command]
    roles: frozenset[str] = frozenset()
    when: Callable[[Sent], datetime | None] | None = None
    after: Callable[[Command, str], None] | None = None
    lets_pass: Callable[[Sent], dict[str, str]] = lambda _sent: {}


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a form: the sentence for what was recorded, or the form again with all that is in its way."""

    said: str = ""
    form: Form | None = None


def sent_values(request: HttpRequest) -> dict[str, str]:
    """What a form sent, by the names of its boxes."""
    return {
        name: storable(str(value), LONGEST).replace("⟦", "[").replace("⟧", "]").strip()
        for name, value in request.POST.items()
    }


def filled(form: Form, sent: Sent) -> Form:
    """The form with what was sent in its boxes, and each that was needed and is empty said at its box and above."""
    fields = tuple(_filled(field, sent) for field in form.fields)
    faults = tuple(f"{field.label}: {field.fault}" for field in fields if field.fault)
    return replace(form, fields=fields, faults=faults)


def _filled(field: FormField, sent: Sent) -> FormField:
    value = sent.get(field.name, "")
    allowed = field.kind != "choice" or value == "" or value in {v for v, _words in field.choices}
    fault = ""
    if field.required and not value:
        fault = _("this is needed.")
    elif not allowed:
        fault = _("choose one of the list.")
    return replace(field, value=value if allowed else "", fault=fault)


def carry_out(act: Act, key: str, sent: Sent, person: str) -> Done:
    """Record what a form asks for; what is missing in it is said before anything is recorded, and all of it at once.

    Raises NotUnderstood for a form that is none.
    """
    form = act.form(key, person)
    if form is None:
        raise NotUnderstood
    scan_id = form_number(sent)
    form = filled(form, sent)
    if form.faults:
        return Done(form=form)
    by = By(person=person, station=act.station, scan_id=scan_id, overrides=act.lets_pass(sent))
    try:
        when = act.when(sent) if act.when else None
    except ValueError as wrong:
        return Done(form=replace(form, faults=(str(wrong),)))
    command = act.command(key, sent)
    answer = record(command, by if when is None else replace(by, mode="tells", happened=when))
    if answer.outcome == "refused":
        first = " ".join(part for part in (answer.what, answer.why, answer.now) if part)
        return Done(form=replace(form, faults=tuple(speak(text) for text in (first, *answer.also))))
    if act.after:
        act.after(command, person)
    parts = [answer.recorded, *(part for part in (answer.what, answer.why, answer.now) if part), *answer.also]
    return Done(said=speak(" ".join(_sentence(part) for part in parts)))


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text[:1].upper()}{text[1:]}."


def asking(form: Form | None) -> Form | None:
    """The form as it is first shown: with an id of its own, so that what is sent twice counts once."""
    return replace(form, scan_id=str(uuid7())) if form else None


def reasons(words: Sequence[tuple[str, str]], value: str = "") -> tuple[FormField, ...]:
    """A reason from a short list, and the person's own words."""
    return (
        FormField("why", _("Reason"), "choice", value, choices=tuple(words), required=True),
        FormField("why_words", _("In your words"), "words"),
    )


def reason_of(sent: Sent) -> str:
    """The reason chosen and the words written, as one text."""
    return ": ".join(part for part in (sent.get("why", ""), sent.get("why_words", "")) if part)
