"""What a command is: a frozen dataclass that says what was scanned, with how each field is to be read."""

import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any, ClassVar, Protocol
from uuid import UUID

if TYPE_CHECKING:
    from trace.readmodels.rows import Rows

Facts = dict[str, Any]


def scanned(*kinds: str, optional: bool = False) -> Any:
    """A field that holds a scanned or typed code of one of these kinds (see recording/floor/standing.py)."""
    if optional:
        return field(default="", metadata={"scan": kinds, "optional": True})
    return field(metadata={"scan": kinds})


def scanned_list(*kinds: str) -> Any:
    """A field that holds several codes of these kinds, as a tuple."""
    return field(default=(), metadata={"scan": kinds, "many": True})


def words(**keywords: Any) -> Any:
    """A field of free words or a name: kept as a note, only its digest enters the event."""
    return field(default="", metadata={"words": True}, **keywords)


class Told(Protocol):
    """An event as it was kept, read back to be said in one line: its command's own fields, and the rows it made."""

    @property
    def says(self) -> Mapping[str, Any]: ...

    @property
    def why(self) -> str:
        """The reason given, in words; "" where none was."""

    def part(self, name: str) -> list[Mapping[str, Any]]:
        """The rows of one part (trace/readmodels/rows.py), in the order of the bytes."""

    def name_of(self, kind: str, key: str) -> str:
        """What a supplier, consignee or person was called then; the key where no name is known."""

    def place_of(self, key: str) -> str:
        """A place as people say it."""


@cache
def _fields(kind: Any) -> tuple[dataclasses.Field[Any], ...]:
    return dataclasses.fields(kind)


def fields_of(command: "Command") -> tuple[dataclasses.Field[Any], ...]:
    """The fields of a command's kind, gathered once: a scan asks for them again and again."""
    kind: Any = type(command)
    return _fields(kind)


@dataclass(frozen=True, kw_only=True)
class Command:
    """A kind of event, said once: a subclass says by constants how it is carried out, and in `told` how it reads."""

    # The event's kind, and what the act is called where a rule says what it looks at.
    KIND: ClassVar[str]
    NAME: ClassVar[str]
    # The training it needs, if any.
    TASK: ClassVar[str | None] = None
    # It rewrites history, so that no other scan may run beside it.
    ALONE: ClassVar[bool] = False
    # Fields whose carriers count as they were when it happened; those of them whose content it changes, so that what
    # was taken since came out of another one; that of them which has to be empty.
    AS_IT_WAS: ClassVar[tuple[str, ...]] = ()
    FILLS: ClassVar[tuple[str, ...]] = ()
    INTO_EMPTY: ClassVar[str] = ""
    # It puts something into the load that was in its mould when it happened, or closes it.
    INTO_LOAD: ClassVar[bool] = False
    # It is about the cook of the load that was in its mould then, also where that is out by now.
    OF_LOAD: ClassVar[bool] = False
    # It is about the mouldings that wait at the mould scanned.
    LOCKS_WAITING: ClassVar[bool] = False
    # Its plates may be read off papers, which know nothing of a plate that was replaced since: both numbers lead to it.
    OFF_PAPERS: ClassVar[bool] = False
    # A person decides, nothing has happened: it can be asked, never told as a fact.
    DECISION: ClassVar[bool] = False

    @staticmethod
    def told(e: Told) -> str:
        """The line of such an event in a history, in the trade's words."""
        raise NotImplementedError

    def codes(self) -> list[tuple[str, str, tuple[str, ...]]]:
        """(field name, code as scanned, kinds expected) of every scanned field that is filled."""
        found = []
        for spec in fields_of(self):
            kinds = spec.metadata.get("scan")
            if kinds is None:
                continue
            value = getattr(self, spec.name)
            for code in value if spec.metadata.get("many") else (value,):
                if code or not spec.metadata.get("optional"):
                    found.append((spec.name, code, kinds))
        return found

    def said(self) -> dict[str, Any]:
        """The fields as plain JSON values."""
        return {f.name: _plain(getattr(self, f.name)) for f in fields_of(self)}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    return value


@dataclass(frozen=True, kw_only=True)
class By:
    """Who sends a command, from where and when: the envelope of a scan.

    mode: "asks" (before the act, may be refused) or "tells" (after it, always recorded). happened: when it was
    done, None for now. unsure_ms: how far that time may be off. overrides: rule code -> reason, for rules that
    the person's role may override. ahead: rules by which an act still being put together is judged; a refusal is
    kept, and nothing is recorded when there is none.
    """

    person: str
    station: str = ""
    device: str = "desk"
    scan_id: UUID | None = None
    mode: str = "asks"
    happened: datetime | None = None
    unsure_ms: int = 0
    offset_min: int = 0
    install: UUID | None = None
    seq: int | None = None
    skew_ms: int = 0
    overrides: dict[str, str] = field(default_factory=dict)
    helper: str = ""
    ahead: tuple[str, ...] = ()
    recorded: datetime | None = None  # only a database marked demo takes this


@dataclass(frozen=True)
class Handler:
    """How a command is carried out. Both are given the command and the floor as it stands, which is read for commands
    and so cannot be named here (recording/floor/standing.py)."""

    facts: Callable[[Any, Any], Facts]
    act: "Callable[[Any, Any, Rows], str]"


HANDLERS: dict[type[Command], Handler] = {}


def handles(
    command: type[Command], facts: Callable[[Any, Any], Facts]
) -> "Callable[[Callable[[Any, Any, Rows], str]], Callable[[Any, Any, Rows], str]]":
    """Registers how a command is carried out: `facts` for the rules, then the decorated `act` fills the rows and
    returns the words for what was recorded."""

    def register(act: "Callable[[Any, Any, Rows], str]") -> "Callable[[Any, Any, Rows], str]":
        HANDLERS[command] = Handler(facts, act)
        return act

    return register
