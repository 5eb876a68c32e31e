"""What a station page shows: the contract between whoever answers a scan and templates/scan/station.html.

Everything here is already words: names are spelled out, amounts carry their unit, sentences are translated.
The templates only lay it out. Nothing in this file touches a database.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from trace.drawings import ContainerDrawing, MouldPlan

Outcome = Literal["accepted", "warned", "flagged", "refused"]
How = Literal["read", "scan", "type", "choose", "press"]
FieldKind = Literal[
    "text", "weight", "count", "temperature", "choice", "reason", "photo", "hidden", "checkbox", "when", "date",
    "moment", "month",
]
LONG = 24  # signs that stand on half a telephone's width, on two lines
SCANS = "scan "  # `do` with a code behind it: the button does what scanning that code does
PICKERS = {"moment": "datetime-local", "date": "date", "month": "month"}
FIGURES = ("weight", "count", "temperature")
ActionStyle = Literal["main", "plain", "stop"]


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the checklist: what must be there, whether it is, who did it and when."""

    label: str
    detail: str = ""
    done: bool = False
    who: str = ""
    when: datetime | None = None
    note: bool = False  # good to know while one does it: neither done nor open
    now: bool = False  # the row that `next` speaks of
    do: str = ""  # the row is a button that posts this as `do`


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer of a field: the value sent and the words shown."""

    value: str
    label: str


@dataclass(frozen=True, slots=True)
class Field:
    """One thing a station asks for beside the code.

    weight, temperature: decimal keypad, `unit` is written behind the box. count: whole numbers. choice: big
    buttons up to six answers, else a list. reason: as choice, plus a box for the person's own words posted
    as `<name>_words`. photo: a picture kept as evidence (it does not send the form by itself; the photo of a
    code, which does, is `StationPage.takes_photo`). when: a moment gone by, chosen or picked. moment, date, month:
    picked, and typed only where a browser has no picker.

    What is required, or has a word for its absence (`without`), is asked for in its turn; anything else waits
    below and may be filled in at any time.
    """

    name: str
    label: str
    kind: FieldKind = "text"
    value: str = ""  # what was typed, when the form comes back; "yes" ticks a checkbox
    unit: str = ""
    choices: tuple[Choice, ...] = ()
    required: bool = False
    needed: str = ""  # in place of "if needed", where it depends: "for a pass"
    # resolution of the instrument, e.g. "0.01"; said beside the box, never enforced by the browser
    step: str = ""
    hint: str = ""  # e.g. "12.10 to 12.30"
    error: str = ""  # one sentence, shown at the field
    looks: bool = False  # for kind choice: what is chosen changes the page, which is drawn anew at once
    words: str = ""  # for kind reason: the person's own words, when the form comes back
    ask: str = ""  # the sentence that asks for it, in the largest type; empty: the station's own next, else the label
    without: str = ""  # the button that says there is none: “No note came”; giving it empty says the same
    gives: str = ""  # what Enter does once it is filled in, where that is more than giving it: “Close the mould”
    enter: str = "send"  # what Enter posts as `do` while this is asked for

    @property
    def wide(self) -> bool:
        """Whether its answers need a row each."""
        return any(len(choice.label) > LONG for choice in self.choices)

    @property
    def picker(self) -> str:
        """The browser's own way of picking it, as the type of its box."""
        return PICKERS.get(self.kind, "text")


@dataclass(frozen=True, slots=True)
class Action:
    """One button: posts `name=value`.

    `main` is the one that goes on; `stop` is for what cannot be taken back. `needs`: the fields that are asked
    for, one after the other, once it was pressed. `below`: it is seldom wanted and waits under the fold. `bare`:
    Enter alone presses it where it is what the page asks for; what only a person can have seen is never given so.
    """

    name: str
    value: str
    label: str
    style: ActionStyle = "plain"
    needs: tuple[str, ...] = ()
    below: bool = False
    bare: bool = True


@dataclass(frozen=True, slots=True)
class Asked:
    """The one thing the page asks for now, its control, and what Enter does.

    read: the caution, once in a sign-on. scan: a code. type, choose: `field`. press: the first of `actions`. The
    other actions stand beside it. `enter` is what Enter posts as `do`; `gives` says it on the control.
    """

    how: How
    sentence: str
    detail: str = ""
    gives: str = ""
    enter: str = "send"
    field: Field | None = None
    actions: tuple[Action, ...] = ()
    step: str = ""  # "2 of 9"

    @property
    def name(self) -> str:
        return self.field.name if self.field else ""

    @property
    def is_figure(self) -> bool:
        """A figure has keys of its own on the page."""
        return self.field is not None and self.field.kind in FIGURES

    @property
    def has_point(self) -> bool:
        """Whether the figure may have decimals."""
        return self.field is not None and self.field.kind != "count"

    @property
    def beside(self) -> tuple[Action, ...]:
        """What can be pressed in place of what is asked."""
        return self.actions[1:] if self.how == "press" else self.actions


@dataclass(frozen=True, slots=True)
class Override:
    """Offered when the rule allows it: the people who may, and the short list of reasons."""

    who_may: str  # "Shift lead or quality"
    reasons: tuple[Choice, ...]  # posted as `reason`; the person's own words as `reason_words`
    asks_badge: bool = True  # a box `badge` for the second person's badge, when the one signed on may not
    error: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer to the scan just made. Shape, word and sentence; never a sign that could read as "safe"."""

    outcome: Outcome
    headline: str  # "Right lot", "Wrong insert"; the template writes the outcome's own word above it
    what: str = ""
    why: str = ""
    now: str = ""
    also: tuple[str, ...] = ()  # what other rules said of the same scan, a sentence each
    rule: str = ""  # code of the rule that decided, e.g. "INS-03"
    recorded: datetime | None = None
    replayed: bool = False  # the same scan was sent before and was counted once
    label_url: str = ""  # a label waits to be printed
    paper_url: str = ""  # a paper goes with what left
    fact: str = ""  # words of the button "Already done? Record it as a fact"; empty = not offered
    override: Override | None = None
    # the scan this verdict is about (its scan_id, code, fields): hidden values of fact and override
    judged: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class HoldNotice:
    """The holds in force, as one answer says them. `lines`: those that are new to this screen, or that the person has
    still to read; `read`: what the button posts as `do`, "" where nothing of it concerns this station's work."""

    carried: str  # the list that this page has, for the form to say again
    head: str = ""  # in one line: how many are new, and on what
    lines: tuple[str, ...] = ()
    more: str = ""
    new: bool = False  # with a sound
    read: str = ""
    line: str = ""


@dataclass(frozen=True, slots=True)
class JustRefused:
    """What was refused before the last answer and is not read yet; `read`: what the button posts as `do`."""

    lines: tuple[str, ...] = ()
    more: str = ""
    read: str = ""


@dataclass(frozen=True, slots=True)
class StationPage:
    """One station, one thing to do next.

    The page posts to its own address, multipart. Posted names: `scan_id`, `asked` (the name of the field asked
    for), `code`, `photo` (a picture of the code), every `carried` pair, every field, and the pressed action. Fact
    and override post `verdict.judged` plus `tell=fact`, or `override=yes` with `reason`, `reason_words` and, when
    asked, `badge`.
    """

    slug: str  # "loading": the station's place in the address
    title: str  # "Loading"
    asked: Asked
    scan_id: str  # UUIDv7 made by the server for this form
    place: str = ""  # "Arm S1 · mould T430-02"
    person: str = ""  # the key of who scans now
    people: tuple[str, ...] = ()  # everybody signed on here
    caution: str = ""  # its first words, on one line
    caution_whole: str = ""
    deferral: str = ""  # under every caution: what this screen is and is not
    drawing: MouldPlan | ContainerDrawing | None = None
    rows: tuple[Row, ...] = ()
    verdict: Verdict | None = None
    fields: tuple[Field, ...] = ()  # what is not asked for now
    actions: tuple[Action, ...] = ()  # what is seldom wanted
    again: bool = False  # the code just scanned is wanted once more, for another place
    carried: Mapping[str, str] = field(default_factory=dict)
    holds: HoldNotice = HoldNotice("")
    before: JustRefused = JustRefused()
    said: str = ""  # one plain sentence that is no verdict: who is signed on now, what is missing
    takes_code: bool = True
    takes_photo: bool = True

    @property
    def mould_plan(self) -> MouldPlan | None:
        """The drawing, when it is a mould plan (templates cannot ask for a type)."""
        return self.drawing if isinstance(self.drawing, MouldPlan) else None

    @property
    def container(self) -> ContainerDrawing | None:
        """The drawing, when it is a container."""
        return self.drawing if isinstance(self.drawing, ContainerDrawing) else None

    @property
    def to_do_count(self) -> int:
        return sum(not row.note for row in self.rows)

    @property
    def done_count(self) -> int:
        """Rows done, for "5 of 9"."""
        return sum(row.done for row in self.rows)
