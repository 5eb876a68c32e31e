"""A paper as JSON: canonical text (RFC 8785) written piece by piece, so that its SHA-256 is the paper's fingerprint.

Nothing in it says who asked or when: the same question about the same moment gives the same bytes for every reader who
may see as much. Amounts are decimal texts, times are UTC, null is “not recorded”.
"""

import hashlib
from collections.abc import Callable, Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any, BinaryIO

from trace.chain import canonical
from trace.exports.paper import Beside, Cell, Facts, Paper, Part, Said, Table
from trace.genealogy.documents import utc

VERSION = 1  # of the shape of this document
CHUNK = 64 * 1024


def write_json(paper: Paper, out: BinaryIO, step: Callable[[], None]) -> None:
    """{as_known_on, caution, facts, gaps, kind, plant, question, records, said, tables, title, version, what}.

    A table is {columns, name, rows}: the columns with name, kind and unit, each row an object by the columns' names.
    """
    waiting = ""
    for piece in _pieces(paper, step):
        waiting += piece
        if len(waiting) > CHUNK:
            out.write(waiting.encode())
            waiting = ""
    out.write(waiting.encode())


def fingerprint(paper: Paper) -> str:
    """The SHA-256 of the JSON, in hex."""
    found = hashlib.sha256()
    for piece in _pieces(paper, lambda: None):
        found.update(piece.encode())
    return found.hexdigest()


def _pieces(paper: Paper, step: Callable[[], None]) -> Iterator[str]:
    """The text in the order of canonical JSON: keys by their letters."""
    parts = [inner for part in paper.parts for inner in _inner(part)]
    head: dict[str, Any] = {
        "as_known_on": utc(paper.as_known_on),
        "caution": paper.caution,
        "facts": [{"pairs": list(map(list, p.pairs)), "title": p.title} for p in parts if isinstance(p, Facts)],
        "gaps": list(paper.gaps),
        "kind": paper.kind,
        "plant": paper.plant,
        "question": list(map(list, paper.question)),
        "records": paper.records,
        "said": [{"lines": list(p.lines), "title": p.title} for p in parts if isinstance(p, Said)],
    }
    yield canonical(head)[:-1] + ',"tables":['
    for n, table in enumerate(paper.tables()):
        yield "," if n else ""
        yield from _table(table, step)
    yield "]," + canonical({"title": paper.title, "version": VERSION, "what": paper.what})[1:]


def _inner(part: Part) -> tuple[Part, ...]:
    return (part.left, part.right) if isinstance(part, Beside) else (part,)


def _table(table: Table, step: Callable[[], None]) -> Iterator[str]:
    columns = [{"kind": c.kind, "name": c.name, "unit": c.unit} for c in table.columns]
    names = [c.name for c in table.columns]
    yield canonical({"columns": columns, "name": table.name})[:-1] + ',"rows":['
    for n, row in enumerate(table.rows):
        step()
        yield ("," if n else "") + canonical({name: plain(cell) for name, cell in zip(names, row, strict=True)})
    yield "]}"


def plain(cell: Cell) -> str | int | bool | None:
    """A cell as JSON has it."""
    if isinstance(cell, Decimal):
        return f"{cell:f}"
    if isinstance(cell, datetime):
        return utc(cell)
    return cell.isoformat() if isinstance(cell, date) else cell
