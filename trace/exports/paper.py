"""What a paper says, whatever it is written as: a title block, then facts, sentences, drawings and tables.

Each kind of paper (trace/exports/kinds) fills one Paper; pdf/ lays it out for A4, files/ writes the same as data.
Tables and their columns have names that never change; titles and sentences are words to be read.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Literal, Protocol

from trace.codes import uncertainty
from trace.drawings import ContainerDrawing, MouldPlan, WallSection
from trace.drawings.strip import StripRows
from trace.drawings.time_line import TimeLine

Cell = str | int | Decimal | datetime | date | bool | None
Row = tuple[Cell, ...]
Kind = Literal["text", "number", "count", "time", "day", "flag", "verdict"]
# What a `Said` is: a plain list, what the record lacks, or what stops the use of it.
Weight = Literal["plain", "gap", "stop"]


class Rows(Protocol):
    """The rows of a table: a tuple, or anything that knows their number and can be gone through again."""

    def __len__(self) -> int: ...

    def __iter__(self) -> Iterator[Row]: ...


@dataclass(frozen=True, slots=True)
class Streamed:
    """Rows made one after the other whenever they are gone through, so that a long list is never held whole."""

    count: int
    made: Callable[[], Iterator[Row]]

    def __len__(self) -> int:
        return self.count

    def __iter__(self) -> Iterator[Row]:
        return self.made()


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `kind` says how its cells are written, `unit` what numbers count, `about` what they are.

    A cell that is None was not recorded (or what `none` says in its place); an empty text has nothing to say. `wide` is
    the column's share of the paper's width; 0: it stands in the files only. Of a verdict the cells are certain, may or
    cannot. off_by: the column that says how far its numbers may be off, its own where it is that itself: on paper they
    stand to two digits of that, in the files whole.
    """

    name: str
    title: str
    about: str
    kind: Kind = "text"
    unit: str = ""
    wide: float = 0.0
    none: str = ""
    off_by: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """`about` says what one row is, `empty` what is read where there is none."""

    name: str
    title: str
    about: str
    columns: tuple[Column, ...]
    rows: Rows
    empty: str = ""

    @property
    def shown(self) -> tuple[int, ...]:
        """The columns that stand on paper, by their number."""
        return tuple(n for n, column in enumerate(self.columns) if column.wide)

    def on_paper(self, row: Row) -> Row:
        """A row with no more digits than the uncertainty beside them leaves."""
        if not any(column.off_by for column in self.columns):
            return row
        at = {column.name: n for n, column in enumerate(self.columns)}
        return tuple(
            _shown(cell, row[at[column.off_by]], own=column.off_by == column.name) if column.off_by else cell
            for cell, column in zip(row, self.columns, strict=True)
        )


def _shown(cell: Cell, off: Cell, *, own: bool) -> Cell:
    if not isinstance(cell, Decimal) or not isinstance(off, Decimal):
        return cell
    return uncertainty.shown(cell) if own else uncertainty.shown_beside(cell, off)


@dataclass(frozen=True, slots=True)
class Facts:
    """Things and what is known of them, as (what, value); an empty value reads “not recorded”."""

    title: str
    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Said:
    """Sentences, one a line; `empty` is read where there is none."""

    title: str
    lines: tuple[str, ...]
    weight: Weight = "plain"
    empty: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing, whole and on one page."""

    title: str
    drawing: MouldPlan | WallSection | ContainerDrawing | TimeLine | StripRows


@dataclass(frozen=True, slots=True)
class Beside:
    """Two parts side by side, where both have room on one page."""

    left: Picture | Facts | Said
    right: Picture | Facts | Said


Part = Facts | Said | Picture | Beside | Table


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture kept as evidence: the name of its file beside the paper, and the SHA-256 of its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper. `what` and `title` head it (“Hull report: Tamsin 430, red”, “GHM-T430-003711”); `question` is what was
    asked, in the words by which it can be asked again. `gaps` are the sentences on page one.
    """

    kind: str
    what: str
    title: str
    question: tuple[tuple[str, str], ...]
    as_known_on: datetime
    records: int
    gaps: tuple[str, ...]
    parts: tuple[Part, ...]
    caution: str
    plant: str = ""
    # What happened as EPCIS events (trace/exports/epcis), where that is told.
    events: Callable[[], Iterator[dict[str, Any]]] | None = None
    # Pictures that go with it, where it can be packed with them (files/with_photos.py).
    photos: tuple[Photo, ...] = ()

    def tables(self) -> Iterator[Table]:
        """The tables in their order, those only in the files too."""
        return (part for part in self.parts if isinstance(part, Table))
