"""Everything that a plant runs is killed in turn while tablets scan: no scan is lost or doubled, and nobody helps.

Short in the suite; with LONG_TESTS (deploy/test --long) at least 3,000 scans and 60 kills, the database waiting for the
disk as in a plant. How long each was away is printed, not judged: it depends on how busy the machine is.
"""

import os
import threading
import time
from collections.abc import Iterator

import psycopg
import pytest
from django.core.management import get_commands
from django.db import connections
from pytest_django import DjangoDbBlocker

from plant.credentials import set_pin
from plant.models import Person
from tests import databases
from tests.databases import Database
from tests.faults.client import Tablet
from tests.faults.house import KINDS, House, house
from trace.demo.floor import Shift
from trace.models import Label
from trace.readmodels import plantdata

LONG = bool(os.environ.get("LONG_TESTS"))
TABLETS = 4
SCANS = 3_200 if LONG else 60
KILLS = 64 if LONG else len(KINDS)
REST_SECONDS = 2.0 if LONG else 0.3
BACK_SECONDS = 5
WHO, PIN = "P-03", "402917"


@pytest.fixture
def stocked(
    django_db_setup: None,
    shared_database: Database,
    templates: tuple[Database, Database],
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[tuple[Database, dict[str, str], list[str]]]:
    """A plant with a box of powder that never ends, a checked scale and a tub for each scan; what a weighing sends."""
    with databases.cloned(templates[0]) as database, django_db_blocker.unblock():
        databases.point_django_at(database)
        plantdata.forget()
        try:
            shift = Shift(device="stock")
            shift.set_up()
            shift.check_scale()
            set_pin(Person.objects.get(key=WHO), PIN)
            box = shift.stock("VERRIN", "LL-35 red", "V-9900", ("50000",))[0]
            tubs = [tub for n in range(0, SCANS, 100) for tub in shift.carriers("tub", min(100, SCANS - n))]
            badge = Label.objects.get(resource__kind="person", resource__key=WHO).code
            held = {"order": "WO-1041", "scale": "W-3", "box": box, "layer": "skin", "gross": "12.20"}
            yield database, {**held, "badge": badge}, tubs
        finally:
            connections.close_all()
            databases.point_django_at(shared_database)
            plantdata.forget()


def wait_for(threads: list[threading.Thread], over: threading.Event) -> None:
    for thread in threads:
        thread.join()
    over.set()


def break_in_turn(place: House, over: threading.Event) -> list[tuple[str, float]]:
    """Kill each kind in turn until enough were killed and the tablets are done; (what, seconds until all of it
    ran again and pages were answered).
    """
    done: list[tuple[str, float]] = []
    visitor = Tablet(place.port, "", "", {}, [], 0)
    while len(done) < KILLS or not over.is_set():
        kind = KINDS[len(done) % len(KINDS)]
        getattr(place, kind)()
        began = time.monotonic()
        while not (place.whole() and visitor.answered()) and time.monotonic() < began + 60:
            time.sleep(0.05)
        done.append((kind, time.monotonic() - began))
        over.wait(REST_SECONDS)
    return done


def test_what_is_killed_comes_back_and_no_scan_is_lost_or_doubled(
    stocked: tuple[Database, dict[str, str], list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    template, held, tubs = stocked
    badge = held.pop("badge")
    with house(template, fsync=LONG) as place:
        began = time.monotonic()
        while not Tablet(place.port, "", "", {}, [], 0).answered():
            assert time.monotonic() < began + 60, "the web did not come up"
            time.sleep(0.1)
        tablets = [Tablet(place.port, badge, PIN, held, tubs[n::TABLETS], n) for n in range(TABLETS)]
        threads = [threading.Thread(target=tablet.work) for tablet in tablets]
        over = threading.Event()
        for thread in threads:
            thread.start()
        waiter = threading.Thread(target=wait_for, args=(threads, over))
        waiter.start()
        kills = break_in_turn(place, over)
        waiter.join()
        assert place.failed == []
        assert [line for tablet in tablets for line in tablet.wrong] == [], place.log()
        check(place.database, tablets)
        replay_some(place.database, tablets)
        check_commands(place.database)
    with capsys.disabled():
        print(f"\n{told(tablets, kills)}")


def told(tablets: list[Tablet], kills: list[tuple[str, float]]) -> str:
    """What was seen, in words."""
    away = {kind: max(seconds for one, seconds in kills if one == kind) for kind in KINDS}
    return (
        f"{sum(len(t.answers) for t in tablets)} scans in {sum(t.sent for t in tablets)} requests, {len(kills)} kills, "
        f"{sum(t.away for t in tablets)} times away; a scan was answered after at most "
        f"{max(t.longest for t in tablets):.1f} s. Back after at most {max(away.values()):.1f} s "
        f"({BACK_SECONDS} s wanted; load {os.getloadavg()[0]:.0f} on {os.cpu_count()} processors): "
        + ", ".join(f"{kind} {seconds:.1f}" for kind, seconds in away.items())
    )


def check(database: Database, tablets: list[Tablet]) -> None:
    """Each answered scan is there once with its outcome, and the box has lost what was weighed, to the milligram."""
    answered = {scan: said[0] for tablet in tablets for scan, said in tablet.answers.items()}
    with psycopg.connect(database.url("auditor")) as auditor:
        rows = auditor.execute(
            "SELECT client_id::text, outcome, event FROM scan WHERE device <> 'stock'"
        ).fetchall()
        kept = {scan: outcome for scan, outcome, _event in rows}
        assert len(kept) == len(rows)
        assert kept == answered
        assert set(answered.values()) == {"accepted", "refused"}
        weighed = [event for _scan, outcome, event in rows if outcome == "accepted"]
        assert len(set(weighed)) == len(weighed) == sum(len(tablet.tubs) for tablet in tablets)
        assert auditor.execute("SELECT count(*) FROM event WHERE kind = 'weighed'").fetchone() == (len(weighed),)
        total = auditor.execute(
            "SELECT sum(amount) FROM edge JOIN event ON event.id = edge.event WHERE event.kind = 'weighed'"
        ).fetchone()
        assert total == (len(weighed) * 12_200_000,)


def replay_some(database: Database, tablets: list[Tablet]) -> None:
    """Sent once more in quiet, the first answer comes back, and not a byte of what is kept has changed."""
    kept = "SELECT device, client_id, mode, answer, event FROM scan ORDER BY 1, 2, 3"
    with psycopg.connect(database.url("auditor"), autocommit=True) as auditor:
        before = auditor.execute(kept).fetchall()
        for tablet in tablets:
            for scan in list(tablet.answers)[:10]:
                tablet.scan(scan, tablet.tub_of[scan])
            tablet.hang_up()
            assert tablet.wrong == []
        assert auditor.execute(kept).fetchall() == before


def check_commands(database: Database) -> None:
    """The product's own checks, whichever there are."""
    for command in ("check_readmodels", "check_records"):
        if command in get_commands():
            database.run(command)
