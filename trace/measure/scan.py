"""Times scans: how many record() carries a second, against pgbench on the same server in the same run."""

import os
import re
import subprocess
from argparse import ArgumentParser
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from time import perf_counter, time
from typing import Any

from django.core.management.base import CommandError

from trace.demo.floor import Shift
from trace.measure.children import point_children_here, set_up
from trace.measure.scratch import scratch_database
from trace.recording.acts.cook import AbortCook
from trace.recording.acts.loading import PlaceInserts, ReadyMould
from trace.recording.acts.setup import Define
from trace.recording.acts.tipping import TipTub

HELP = "scans a second at 1 and 4 processes, as a share of pgbench's simple update; page answers at 25 scans a second"
TARGET_SHARE = 0.10
CLIENTS = (1, 4)


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--seconds", type=int, default=8, help="length of each run (default 8)")
    parser.add_argument("--rounds", type=int, default=3, help="runs of each, the median counts (default 3)")
    parser.add_argument(
        "--pages", type=int, default=1000, help="page answers at 25 a second (default 1000; 0: none)"
    )


def run(options: dict[str, Any]) -> Iterator[str]:
    """Lines of a table: scans and pgbench transactions a second in turn, their ratio, and the pages' p99."""
    seconds = options["seconds"]
    with scratch_database() as superuser:
        places = loading_places(max(CLIENTS))
        _pgbench(superuser, "-i", "-q", "-s", "10")
        yield f"{'processes':>9} {'scans/s':>9} {'pgbench/s':>10} {'share':>7}   (five kinds of scan in turn)"
        for clients in CLIENTS:
            shares = []
            for _ in range(options["rounds"]):
                floor = _transactions(
                    _pgbench(
                        superuser, "-N", "-n", "-c", str(clients), "-j", str(clients), "-T", str(seconds)
                    )
                )
                scans = _scans(places[:clients], seconds)
                shares.append((scans / floor, scans, floor))
            share, scans, floor = sorted(shares)[len(shares) // 2]
            met = "met" if share >= TARGET_SHARE else "NOT met"
            yield f"{clients:>9} {scans:>9.0f} {floor:>10.0f} {share:>7.3f}   target {TARGET_SHARE}: {met}"
        if options["pages"]:
            from trace.measure.pages import answers

            yield from answers(options["pages"])


def loading_places(count: int) -> list[tuple[str, str, str, str]]:
    """The invented plant, and for each process a mould, a powder box, an insert box and a tub of its own."""
    shift = Shift()
    shift.set_up()
    shift.check_scale()
    found = []
    for n in range(count):
        mould = f"T430-{50 + n}"
        body = {"products": ["T430"], "arms": ["S1"], "cavities": ["1"], "state": "in service"}
        shift.scan(Define(kind="mould", key=mould, body=body), person="P-09")
        powder = shift.stock("VERRIN", "LL-35 red", f"V-9{n}", ("50000",))[0]
        inserts = shift.stock("MARROW", "M8-N", f"N-9{n}", ("90000",))[0]
        found.append((mould, powder, inserts, shift.carriers("tub", 1)[0]))
    return found


def _scans(places: list[tuple[str, str, str, str]], seconds: int) -> float:
    """Scans a second of as many processes as there are places."""
    point_children_here()
    with ProcessPoolExecutor(len(places), mp_context=get_context("spawn"), initializer=set_up) as pool:
        list(pool.map(_warm, range(len(places) * 2)))
        return sum(pool.map(_one, places, [seconds] * len(places)))


def _warm(_: int) -> None:
    from django.db import connection

    connection.ensure_connection()


def _one(place: tuple[str, str, str, str], seconds: int) -> float:
    done, began = 0, perf_counter()
    while perf_counter() - began < seconds:
        done += sum(1 for _ in one_round(place))
    return done / (perf_counter() - began)


def one_round(place: tuple[str, str, str, str]) -> Iterator[tuple[float, float]]:
    """Five kinds of scan in turn at one mould; of each when it began (seconds of the clock) and how many ms it took."""
    mould, powder, inserts, tub = place
    shift = Shift(person="P-03", device=f"measure {mould}")
    scans: tuple[Callable[[], object], ...] = (
        lambda: shift.scan(ReadyMould(mould=mould, order="WO-1041", arm="S1")),
        lambda: shift.weigh("WO-1041", "skin", powder, tub),
        lambda: shift.scan(PlaceInserts(mould=mould, box=inserts)),
        lambda: shift.scan(TipTub(mould=mould, tub=tub)),
        lambda: shift.scan(AbortCook(mould=mould)),
    )
    for scan in scans:
        when, began = time(), perf_counter()
        scan()
        yield when, (perf_counter() - began) * 1e3


def _pgbench(url: str, *arguments: str) -> str:
    from deploy.binaries import find_binaries

    program = find_binaries(None, None, None) / "pgbench"
    done = subprocess.run(
        [str(program), *arguments, url],
        check=False,
        capture_output=True,
        text=True,
        env={**os.environ, "PGOPTIONS": ""},
    )
    if done.returncode:
        raise CommandError(f"pgbench did not run: {done.stderr.strip()[-300:]}")
    return done.stdout


def _transactions(text: str) -> float:
    found = re.search(r"tps = ([0-9.]+)", text)
    if found is None:
        raise CommandError("pgbench told no figure.")
    return float(found[1])
