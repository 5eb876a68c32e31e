"""A kind of event is said in one place, its command: what is derived from it is reached, and nothing else names it."""

import ast
import dataclasses
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, get_type_hints

import pytest

import trace.scan
from trace.recording.acts import commands_by_kind
from trace.recording.commands import HANDLERS, Command
from trace.recording.rules.table import TABLE
from trace.recording.told_late.at_that_time import STAGE_AFTER

TREE = Path(str(trace.scan.__file__)).parent.parent
EVERY = commands_by_kind()
# Where what a person does becomes a command; a hold on a scope is asked again by whoever presses, and by the worker.
REACHING = ("scan", "pages", "api", "exports", "sheets", "recording/asking_scopes.py")


@dataclasses.dataclass
class ReadBack:
    """An event of which nothing but its command's own fields is known."""

    says: Mapping[str, Any]
    why: str = "because"

    def part(self, _name: str) -> list[Mapping[str, Any]]:
        return []

    def name_of(self, _kind: str, key: str) -> str:
        return key

    def place_of(self, key: str) -> str:
        return key


def plain(command: type[Command]) -> dict[str, Any]:
    """A plain value for each field of a command, as its event's bytes would hold it."""
    values: dict[str, Any] = {"str": "12.2", "int": 1, "bool": True}
    hints = get_type_hints(command)
    return {
        f.name: values.get(getattr(hints[f.name], "__name__", ""), {} if "dict" in str(hints[f.name]) else [])
        for f in dataclasses.fields(command)
    }


def made(folder: str) -> Iterator[str]:
    """The names of everything called like a class in the files of a folder, or in one file."""
    files = [TREE / folder] if folder.endswith(".py") else sorted((TREE / folder).rglob("*.py"))
    for file in files:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                called = node.func
                yield called.id if isinstance(called, ast.Name) else getattr(called, "attr", "")


def test_a_kind_is_one_command() -> None:
    assert len(EVERY) == len(HANDLERS)
    names = [command.NAME for command in EVERY.values()]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("kind", sorted(EVERY))
def test_a_kind_says_its_name_and_its_line(kind: str) -> None:
    command = EVERY[kind]
    assert command.NAME.strip() == command.NAME != ""
    assert command.__doc__
    line = command.told(ReadBack(plain(command)))
    assert line[:1].isupper() or line[:1].isdigit()
    assert "%(" not in line


def test_every_kind_can_be_told_by_a_person() -> None:
    reached = {name for part in REACHING for name in made(part)}
    assert {c.__name__ for c in EVERY.values()} <= reached


def test_what_names_kinds_names_kinds_that_are_there() -> None:
    guarded = {kind for rule in TABLE for kind in rule.guards if kind != "*"}
    assert guarded <= EVERY.keys()
    assert set(STAGE_AFTER) <= EVERY.keys()
