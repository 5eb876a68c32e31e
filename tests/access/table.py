"""Reads and writes permissions.txt: for every address and method, the status each actor gets."""

from dataclasses import dataclass
from pathlib import Path

from plant.access import ANONYMOUS
from plant.roles import ROLES

FILE = Path(__file__).with_name("permissions.txt")
ACTORS = (ANONYMOUS, *ROLES)
METHODS = ("GET", "POST")
HEAD = """\
# The table of rights as seen from outside: the status each person gets for an address and a method.
# 200 302 are answers; 302* sends to the sign-on page; 401 nobody signed on; 403 not this role;
# 405 not this method.
# Other codes come from the page itself (400, 404: the example has no such thing).
# Written anew by: WRITE_PERMISSIONS=1 pytest tests/access/test_permissions.py (then read what changed).
"""


@dataclass(frozen=True, slots=True)
class Line:
    """One address and method, and the statuses by actor, as written ("200", "302*")."""

    path: str
    method: str
    statuses: tuple[str, ...]


def read() -> list[Line]:
    """The lines of the file; raises ValueError for one that has not a status for each actor."""
    lines = []
    for text in FILE.read_text(encoding="utf-8").splitlines() if FILE.exists() else []:
        if text.startswith(("#", "address ")) or not text.strip():
            continue
        path, method, *statuses = text.split()
        if len(statuses) != len(ACTORS):
            raise ValueError(f"{path} {method} has {len(statuses)} statuses for {len(ACTORS)} actors.")
        lines.append(Line(path, method, tuple(statuses)))
    return lines


def write(lines: list[Line]) -> None:
    """Write the file, one aligned line for each address and method."""
    wide = max(len(line.path) for line in lines) + 2
    columns = [max(len(actor), 4) + 1 for actor in ACTORS]

    def row(path: str, method: str, cells: tuple[str, ...]) -> str:
        aligned = "".join(cell.ljust(width) for cell, width in zip(cells, columns, strict=True))
        return f"{path.ljust(wide)}{method.ljust(6)}{aligned}".rstrip() + "\n"

    text = (
        HEAD
        + row("address", "", ACTORS)
        + "".join(row(line.path, line.method, line.statuses) for line in lines)
    )
    FILE.write_text(text, encoding="utf-8")
