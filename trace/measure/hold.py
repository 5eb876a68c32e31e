"""Times what other scans wait while a wide hold is laid and spread, and asks whether it is in force at once."""

import resource
import time
from argparse import ArgumentParser
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from datetime import timedelta
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from trace.genealogy.live import LIVE_NOW
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.tree_size import set_marks, tree_size
from trace.measure.children import point_children_here, set_up
from trace.measure.cpu import queued, server_cpu
from trace.measure.scan import loading_places, one_round
from trace.measure.scratch import is_kept, scratch_database
from trace.measure.walk import quantile
from trace.measure.whole import fill
from trace.readmodels import spreading
from trace.recording.acts.holds import Hold
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.weighing import Weigh
from trace.recording.commands import By, Command
from trace.recording.record import record
from trace.sheets.lots.gathered import gather_lot
from trace.sheets.lots.sheet import lot_sheet

HELP = "a hold on a lot of an old plant: what other scans wait, whether it is in force at once, how long it is spread"
# What another scan may wait at most, in ms, while holds that reach about so many units are laid and spread.
BUDGETS = {97_000: 50.0, 3_200_000: 100.0}
PAGE_SECONDS, PAGE_MB = 1.5, 100
# Scans of one loading place, one after the other, beside the hold.
PLACES = 1

DOWN = f"""
WITH RECURSIVE a(unit) AS (
  SELECT %(unit)s::bigint
  UNION
  SELECT c.child FROM a, LATERAL (SELECT e.child FROM edge e WHERE e.parent = a.unit AND {LIVE_NOW} OFFSET 0) c)
SELECT count(*) FROM (SELECT FROM a LIMIT %(most)s::int) AS few
"""


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--hulls", type=int, default=100_000, help="hulls of the plant (default 100000)")
    parser.add_argument("--seconds", type=int, default=10, help="scans alone, before the first hold (default 10)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", default="", help="keep the plant under this name, or measure on the one kept so")


def run(options: dict[str, Any]) -> Iterator[str]:
    """Lines: the plant, scans alone, then for each hold what it reached, took, and what scans waited beside it."""
    keep = options["keep"]
    if keep and not is_kept(keep):
        with scratch_database(keep_as=keep) as superuser:
            yield from _made(superuser, options)
    with scratch_database(copy_of=keep) as superuser:
        if not keep:
            yield from _made(superuser, options)
        places = loading_places(PLACES + 1)
        yield from holds(places, options["seconds"])


def _made(superuser: str, options: dict[str, Any]) -> Iterator[str]:
    began = time.perf_counter()
    for line in fill(superuser, options["hulls"], options["seed"]):
        yield f"{time.perf_counter() - began:>6.0f} s: {line}"


def holds(places: list[tuple[str, str, str, str]], seconds: int) -> Iterator[str]:
    """The measurement itself, in a database that `fill` has filled; the tub of the last place is what is asked with."""
    lots = {_lot_of(size): budget for size, budget in BUDGETS.items()}
    with _scans_beside(places[:-1]) as told:
        time.sleep(seconds)
        alone = [ms for ms, _queue in _since(told, 0.0)]
        usual = quantile(alone, 0.5)
        yield f"scans alone: p50 {usual:.0f} ms, p99 {quantile(alone, 0.99):.0f} ms, at most {max(alone):.0f} ms"
        over = max(alone) - usual
        for lot, budget in lots.items():
            yield from _one_hold(lot, budget, told, usual, places[-1][3])
            yield f"  (alone they took at most {over:.0f} ms over the usual)"
    _marked()
    for lot in lots:
        yield _page(lot)


def _marked() -> None:
    """Set the marks from which events are counted, as the worker of a plant does once an hour; this one ends ahead."""
    newest, _size = tree_size()
    if newest is not None:
        set_marks(newest + timedelta(hours=2))


def _page(lot: str) -> str:
    """A line: what the page of a lot takes, of time, of CPU here and of the server's, and of memory."""
    idle, peak = _rss(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    began, own, cpu = time.perf_counter(), time.process_time(), server_cpu()
    sheet = lot_sheet(gather_lot(lot))
    took, own, cpu = time.perf_counter() - began, time.process_time() - own, server_cpu() - cpu
    more = max(_rss() - idle, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024 - max(peak, idle))
    far = f"{sheet.wide.units} units, {sheet.wide.hulls} hulls" if sheet.wide else f"{sheet.certain + sheet.may} hulls"
    met = "met" if took <= PAGE_SECONDS and more <= PAGE_MB else "NOT met"
    return (
        f"page of {lot} ({far}): {took:.2f} s ({own:.2f} s of CPU here, {cpu:.2f} s of the server's), {more} MB above"
        f" idle; target {PAGE_SECONDS} s, {PAGE_MB} MB: {met}"
    )


def _rss() -> int:
    """MB of this process in memory; 0 where the system does not tell."""
    try:
        return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() // 2**20
    except OSError:
        return 0


def _one_hold(lot: str, budget: float, told: Path, usual: float, tub: str) -> Iterator[str]:
    made = fetch_rows(MADE, {"unit": int(lot.removeprefix("L-"))})[0]
    began, cpu = time.time(), server_cpu()
    answer = record(Hold(code=lot, reason="measured"), By(person="P-09", station="hold", device="measure hold"))
    laid, laid_cpu = time.time() - began, server_cpu() - cpu
    (uid,) = answer.made["holds"]
    force = ", ".join(f"{what} {code}" for what, code in _in_force(made, tub))
    ((job, hold),) = fetch_rows(JOB, {"key": f"spread hold {uid}"})
    gate: list[float] = []
    spread_began, cpu = time.time(), server_cpu()
    with _gate_timed(gate):
        while not spreading.spread(job):
            pass
    spread, spread_cpu = time.time() - spread_began, server_cpu() - cpu
    time.sleep(1)
    units = fetch_rows("SELECT count(*) FROM unit_hold WHERE hold = %(hold)s", {"hold": hold})[0][0]
    beside = _since(told, began)
    stalls, (_ms, queue) = [max(0.0, ms - usual) for ms, _queue in beside], max(beside)
    met = "met" if max(stalls) <= budget else "NOT met"
    yield (
        f"hold on {lot}: laid in {laid * 1e3:.0f} ms ({laid_cpu * 1e3:.0f} ms of the server's CPU);"
        f" {units} units spread in {spread:.1f} s ({spread_cpu:.1f} s of CPU)"
    )
    yield f"  asked before it was spread: {force}"
    yield (
        f"  the gate was waited for and held alone {len(gate)} times, at most {max(gate):.1f} ms;"
        f" {len(stalls)} scans beside it took p99 {quantile(stalls, 0.99):.0f} ms, at most {max(stalls):.0f} ms over"
        f" the usual; target {budget:.0f} ms: {met} (the slowest had no processor for {queue:.0f} ms)"
    )


LOTS = "SELECT id FROM unit WHERE kind = 'lot' AND lot_no LIKE 'L-%%' ORDER BY id"
JOB = "SELECT id, (args->>'hold')::bigint FROM job WHERE key = %(key)s"
# The newest of what came of a lot and can be scanned, that no other hold is on: in a container, a hull, a pack.
MADE = f"""
WITH RECURSIVE a(unit) AS (
  SELECT %(unit)s::bigint
  UNION
  SELECT c.child FROM a, LATERAL (SELECT e.child FROM edge e WHERE e.parent = a.unit AND {LIVE_NOW} OFFSET 0) c),
free AS MATERIALIZED (SELECT unit FROM a WHERE NOT EXISTS (SELECT FROM unit_hold w WHERE w.unit = a.unit))
SELECT (SELECT l.code FROM label l JOIN carrier_state c ON c.carrier = l.carrier JOIN free f ON f.unit = c.content
         WHERE EXISTS (SELECT FROM edge e WHERE e.parent = f.unit AND e.role = 'draw') ORDER BY f.unit DESC LIMIT 1),
       (SELECT s.text FROM serial_state s JOIN free f ON f.unit = s.hull ORDER BY s.hull DESC LIMIT 1),
       (SELECT l.code FROM label l JOIN free f ON f.unit = l.unit ORDER BY f.unit DESC LIMIT 1)
"""


def _lot_of(size: int) -> str:
    """The number of a lot of which about so many units were made; the widest looked at where none is as wide.

    Newer lots reach less: a narrow one is sought from the newest on, a wide one among the oldest.
    """
    ids = [row[0] for row in fetch_rows(LOTS, {})]
    units = fetch_rows("SELECT max(id) FROM unit", {})[0][0]
    step = max(1, len(ids) // 120)
    best, found = 0, ids[0]
    for lot in ids[::-step] if size < units // 10 else ids[:10]:
        count = fetch_rows(DOWN, {"unit": lot, "most": size * 5 // 4})[0][0]
        if count > best:
            best, found = count, lot
        if count >= size * 3 // 4:
            break
    return f"L-{found}"


def _in_force(made: tuple[str | None, ...], tub: str) -> Iterator[tuple[str, str]]:
    """What use, packing and dispatch of what came of the held lot answer now."""
    content, hull, pack = made
    weighed: dict[str, Any] = {"order": "WO-1041", "layer": "skin", "tub": tub, "scale": "W-3", "gross": "12.20"}
    asked: list[tuple[str, str | None, Callable[[str], Command], str]] = [
        ("use", content, lambda c: Weigh(box=c, **weighed), "P-03"),
        ("packing", hull, lambda c: Pack(order="SO-220", hulls=(c,)), "P-07"),
        ("dispatch", pack, lambda c: Dispatch(order="SO-220", packs=(c,), consignee="WHARFE", vehicle="PA 12"), "P-07"),
    ]
    for what, code, command, person in asked:
        if code is None:
            yield what, "(nothing that can be scanned came of it)"
            continue
        began = time.perf_counter()
        answer = record(command(code), By(person=person, station="measure", device="measure force"))
        took = (time.perf_counter() - began) * 1e3
        codes = [f["code"] for f in answer.found if f["code"].endswith("HELD")]
        yield what, f"{codes[0] if codes else f'NOT held: {answer.outcome} {answer.code}'} ({took:.0f} ms)"


@contextmanager
def _gate_timed(times: list[float]) -> Iterator[None]:
    """Note in ms how long each part of the spreading took that holds the gate alone, the wait for it included."""
    kept = spreading._newest, spreading._end

    def timed(part: Callable[..., Any]) -> Callable[..., Any]:
        def run(*given: Any) -> Any:
            began = time.perf_counter()
            found = part(*given)
            times.append((time.perf_counter() - began) * 1e3)
            return found

        return run

    spreading._newest, spreading._end = timed(kept[0]), timed(kept[1])
    try:
        yield
    finally:
        spreading._newest, spreading._end = kept


@contextmanager
def _scans_beside(places: list[tuple[str, str, str, str]]) -> Iterator[Path]:
    """Scans go on in processes of their own; the file has a line for each: when it began, and its ms."""
    point_children_here()
    with TemporaryDirectory() as folder:
        told, stop = Path(folder) / "scans", Path(folder) / "stop"
        told.touch()
        with ProcessPoolExecutor(len(places), mp_context=get_context("spawn"), initializer=set_up) as pool:
            running = [pool.submit(_beside, place, str(told), str(stop)) for place in places]
            while not told.stat().st_size and not any(one.done() for one in running):
                time.sleep(0.1)
            try:
                yield told
            finally:
                stop.touch()
            for one in running:
                one.result()


def _beside(place: tuple[str, str, str, str], told: str, stop: str) -> None:
    with Path(told).open("a", buffering=1) as file:
        before = queued()
        while not Path(stop).exists():
            for began, ms in one_round(place):
                now = queued()
                file.write(f"{began} {ms} {(now - before) * 1e3}\n")
                before = now


def _since(told: Path, when: float) -> list[tuple[float, float]]:
    """Of the scans that ended after that time: the ms that each took, and for how many there was no processor."""
    lines = [line.split() for line in told.read_text().splitlines() if line.count(" ") == 2]
    return [
        (float(ms), float(queue)) for began, ms, queue in lines if float(began) + float(ms) / 1e3 >= when
    ] or [(0.0, 0.0)]
