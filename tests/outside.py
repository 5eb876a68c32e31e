"""Checks against something outside the project, each marked with its class: `python -m tests.outside` counts them.

    @pytest.mark.outside("published", "JCGM 100:2008, F.2.2.1, from memory")
    @pytest.mark.outside("library", "networkx")
    @pytest.mark.outside("identity", "links counted down = links counted up")

published: a standard, a handbook's table, a worked example, named with its source, and "from memory" where nobody has
it before them. library: a general-purpose library that shares no code with the product. identity: what must hold of any
right answer, whoever works it out. Common practice is none of these.
"""

from __future__ import annotations

import ast
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

KINDS = ("published", "library", "identity")
TESTS = Path(__file__).parent


@dataclass(frozen=True, order=True)
class Outside:
    """One marked test. `source` is the standard, the library or the identity by name."""

    kind: str
    source: str
    test: str


def trouble(arguments: tuple[object, ...]) -> str:
    """Why a mark with these arguments says too little, "" where it says enough."""
    if len(arguments) != 2 or arguments[0] not in KINDS or not str(arguments[1]).strip():
        return f"outside() takes one of {', '.join(KINDS)} and the name of its source, not {arguments}."
    return ""


def marked(folder: Path = TESTS) -> list[Outside]:
    """Every mark on a test in this folder, read from the files alone."""
    found = []
    for path in sorted(folder.rglob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                name = f"{path.relative_to(folder.parent)}::{node.name}"
                found += [Outside(kind, source, name) for kind, source in _marks(node)]
    return sorted(found)


def _marks(test: ast.FunctionDef | ast.AsyncFunctionDef) -> Iterator[tuple[str, str]]:
    for mark in test.decorator_list:
        if isinstance(mark, ast.Call) and ast.unparse(mark.func) == "pytest.mark.outside":
            said = tuple(ast.literal_eval(argument) for argument in mark.args)
            if wrong := trouble(said):
                raise SystemExit(f"{test.name}: {wrong}")
            yield said


def main() -> None:
    found = marked()
    if "-v" in sys.argv[1:]:
        for one in found:
            print(f"{one.kind:10} {one.test}\n           {one.source}")
    counted = Counter(one.kind for one in found)
    print(f"{len(found)} checks from outside: " + ", ".join(f"{counted[kind]} {kind}" for kind in KINDS))


if __name__ == "__main__":
    main()
