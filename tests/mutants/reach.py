"""Which tests reach which line: every test is run once, watched by coverage under the test's own name."""

from __future__ import annotations

import json
import time
from collections import defaultdict
from collections.abc import Container, Iterable
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from _pytest.runner import runtestprotocol
from coverage import Coverage

# What it takes to begin a test at all.
LEAST_SECONDS = 0.05


@dataclass
class Reach:
    """`lines`: file -> line -> the tests that run it. `seconds`: how long each test that passed takes, by its name."""

    lines: dict[str, dict[int, list[str]]] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)

    def of(self, path: str, lines: Iterable[int]) -> tuple[list[str], list[str]]:
        """The tests that reach one of these lines and pass without a fault: those that tell most for the time they take
        first, and the most telling first.

        What few tests reach in a file says what it is about: who goes there looks more closely at the rest of it too.
        """
        there = self.lines.get(path, {})
        found = {name for line in lines for name in there.get(line, ())} & self.seconds.keys()
        telling: dict[str, float] = defaultdict(float)
        for names in there.values():
            for name in found.intersection(names):
                telling[name] += 1 / len(names)
        quick = sorted(found, key=lambda name: (-telling[name] / (self.seconds[name] + LEAST_SECONDS), name))
        return quick, sorted(found, key=lambda name: (-telling[name], self.seconds[name], name))

    def forget_all_but(self, names: Container[str]) -> None:
        """A test that is no longer there cannot be run."""
        self.seconds = {name: took for name, took in self.seconds.items() if name in names}

    def keep(self, path: Path) -> None:
        path.write_text(json.dumps({"seconds": self.seconds, "lines": self.lines}), encoding="utf-8")

    @classmethod
    def of_files(cls, paths: Iterable[Path]) -> Reach:
        """All that was kept in these files together."""
        together = cls()
        for path in paths:
            kept = json.loads(path.read_text(encoding="utf-8"))
            together.seconds |= kept["seconds"]
            for file, lines in kept["lines"].items():
                for line, names in lines.items():
                    together.lines.setdefault(file, {}).setdefault(int(line), []).extend(names)
        return together


def reach_of(items: list[pytest.Item], root: Path, include: Iterable[str]) -> Reach:
    """Runs every test once. What fails without a fault in it proves nothing and is left out, and said."""
    found = Reach()
    watched = Coverage(data_file=None, include=[str(root / name) for name in include], config_file=False)
    watched.start()
    # After the last one nothing stands but what lasts for the session: any test may come next.
    for item, following in zip(items, [*items[1:], items[-1].session], strict=True):
        watched.switch_context(item.nodeid)
        begun = time.monotonic()
        reports = runtestprotocol(item, log=False, nextitem=following)  # type: ignore[arg-type]
        if all(report.passed for report in reports):
            found.seconds[item.nodeid] = time.monotonic() - begun
        elif any(report.failed for report in reports):
            print(f"fails without a fault, so it is left out: {item.nodeid}", flush=True)
    watched.stop()
    data = watched.get_data()
    for file in data.measured_files():
        by_line = data.contexts_by_lineno(file)
        found.lines[str(Path(file).relative_to(root))] = {n: [c for c in by if c] for n, by in by_line.items()}
    return found
