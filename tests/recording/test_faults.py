"""A scan breaks off at each point of its way: nothing of it stays, and the next attempt records it once."""

from __future__ import annotations

import signal
import subprocess
import sys
from typing import Any

import pytest

from tests.cast import LEAD, QUALITY, WO_RED, Cast, rows_of
from tests.databases import ROOT, Database
from trace.codes import uuid7
from trace.readmodels.rebuild import differences, dump
from trace.recording import record as recording
from trace.recording.acts.holds import Hold
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.commands import By, Command
from trace.recording.record import record

POINTS = ("before_lock", "after_lock", "before_write", "after_write", "before_commit")
TABLES = ("event", "note", "unit", "edge", "edge_void", "scan", "hold", "job", "event_unit", "difference")


class BrokenError(Exception):
    """The program ends here."""


def commands(cast: Cast) -> dict[str, tuple[Command, By]]:
    now = cast.clock()
    who: dict[str, Any] = {"device": "t1", "station": "weighing", "recorded": now}
    weigh: dict[str, Any] = {"order": WO_RED, "layer": "skin", "box": cast["red"], "scale": "W-3"}
    return {
        "an ask": (Weigh(**weigh, tub=cast["tubs"][0], gross="12.20"), By(person=LEAD, **who)),
        "a refused ask": (Weigh(**weigh, tub=cast["tubs"][0], gross="13.00"), By(person=LEAD, **who)),
        "a flagged fact": (Weigh(**weigh, tub=cast["tubs"][1], gross="13.00"), By(person=LEAD, mode="tells", **who)),
        "a late fact": (
            TopUp(source=cast["natural"], into=cast["vessels"][0], amount="20"),
            By(person=LEAD, mode="tells", happened=cast.clock.now.replace(hour=0), **who),
        ),
        "a hold": (Hold(code=cast["red"], rule="quality", reason="density"), By(person=QUALITY, **who)),
    }  # fmt: skip


def everything() -> dict[str, object]:
    counts = {table: rows_of(f"SELECT count(*) FROM {table}")[0][0] for table in TABLES}
    return {**counts, **dump()}


@pytest.fixture
def breaking(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Add the name of a point: the next scan breaks off there, once."""
    points: list[str] = []

    def reach(point: str) -> None:
        if point in points:
            points.remove(point)
            raise BrokenError(point)

    monkeypatch.setattr(recording, "fault_point", reach)
    return points


@pytest.mark.parametrize("point", POINTS)
@pytest.mark.parametrize("what", ["an ask", "a refused ask", "a flagged fact", "a late fact", "a hold"])
def test_all_or_nothing(cast: Cast, breaking: list[str], what: str, point: str) -> None:
    cast.scan(TopUp(source=cast["natural2"], into=cast["vessels"][0], amount="30"), person=LEAD)
    command, who = commands(cast)[what]
    who = By(**{**who.__dict__, "scan_id": uuid7()})
    before = everything()
    breaking.append(point)
    with pytest.raises(BrokenError):
        record(command, who)
    assert everything() == before
    answer = record(command, who)
    assert record(command, who).text() == answer.text()
    assert rows_of("SELECT count(*) FROM scan WHERE client_id = %s", who.scan_id) == [(1,)]
    assert rows_of("SELECT count(*) FROM event")[0][0] == before["event"] + (what != "a refused ask")  # type: ignore[operator]
    assert differences() == []


KILLED = """
import os, signal, sys, django
django.setup()
from uuid import UUID
from trace.recording import record as recording
from trace.recording.commands import By
from trace.recording.acts.weighing import Weigh
point, scan, box, tub = sys.argv[1:]
recording.fault_point = lambda name: os.kill(os.getpid(), signal.SIGKILL) if name == point else None
command = Weigh(order="WO-1041", layer="skin", box=box, tub=tub, scale="W-3", gross="12.20")
print(recording.record(command, By(person="P-03", device="t1", scan_id=UUID(scan), mode="tells")).text())
"""


@pytest.mark.parametrize("point", ["after_write", "before_commit"])
def test_a_killed_program_leaves_nothing_behind(fresh_database: Database, told: Cast, point: str) -> None:
    scan, before = uuid7(), everything()

    def run(where: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-c", KILLED, where, str(scan), told["red"], told["tubs"][0]],
            check=False, capture_output=True, text=True, cwd=ROOT, env=fresh_database.environment, timeout=300,
        )  # fmt: skip

    assert run(point).returncode == -signal.SIGKILL
    assert everything() == before
    first, second = run("nowhere"), run("nowhere")
    assert first.stdout == second.stdout != ""
    assert rows_of("SELECT count(*) FROM scan WHERE client_id = %s", scan) == [(1,)]
