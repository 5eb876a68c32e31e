"""Plays mistakes and lies of many kinds into a working plant, honest loads beside them: what is caught, and when."""

import logging
import time
from argparse import ArgumentParser
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from random import Random
from typing import Any
from zlib import crc32

import psycopg
from django.db import transaction
from django.utils import timezone

from trace.demo.floor import WorkingClock
from trace.measure.mistakes.at_the_gate import GATE
from trace.measure.mistakes.at_the_mould import MOULD
from trace.measure.mistakes.at_the_oven import OVEN
from trace.measure.mistakes.at_the_scale import SCALE
from trace.measure.mistakes.floor import CaughtError, Floor, Tally, tell
from trace.measure.mistakes.honest import days
from trace.measure.mistakes.in_the_stores import STORES
from trace.measure.mistakes.kind import Kind, Start
from trace.measure.mistakes.on_the_page import PAGE, scans_of_a_load
from trace.measure.scratch import scratch_database

HELP = "floor mistakes and lies of many kinds: refused, held, warned of, seen in the shift, before dispatch, or missed"
KINDS: tuple[Kind, ...] = (*SCALE, *MOULD, *OVEN, *GATE, *STORES, *PAGE)
COLUMNS = ("refused", "held", "warned", "in the shift", "before dispatch", "missed")
REFUSED, HELD, WARNED, SHIFT, GATE_SEEN, MISSED = COLUMNS
COLUMN = 15  # characters wide
IN_SHIFT, BEFORE_DISPATCH = 0.95, 0.99
NEEDLESS_REFUSALS, NEEDLESS_WARNINGS = 1, 3  # in 1000 honest scans
MOST_SCANS = 30


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--each", type=int, default=4, help="mistakes of each kind (default 4)")
    parser.add_argument("--hulls", type=int, default=24, help="hulls made before the first mistake (default 24)")
    parser.add_argument("--loads", type=int, default=48, help="honest loads (default 48)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="only kinds whose name has this in it")


@dataclass(frozen=True, slots=True)
class Played:
    """One mistake: what became of it (one of COLUMNS), and by which rule or list."""

    kind: str
    n: int
    came: str
    by: str


def run(options: dict[str, Any]) -> Iterator[str]:
    """A line for each kind, the shares beside their targets, then the honest side."""
    logging.disable(logging.WARNING)  # each screen that signs on would write its line
    with scratch_database() as superuser:
        with psycopg.connect(superuser, autocommit=True) as session:
            session.execute('INSERT INTO installation ("only", demo) VALUES (TRUE, TRUE)')
        rng = Random(options["seed"])  # noqa: S311 - a seed gives the same again
        floor = tell(WorkingClock(some_days_ago()), rng, options["hulls"])
        kinds = [kind for kind in KINDS if options["only"] in kind.name]
        began = time.perf_counter()
        played = list(play_all(floor, kinds, options["each"], options["seed"]))
        yield from table(played)
        yield f"{len(played)} mistakes of {len(kinds)} kinds in {time.perf_counter() - began:.0f} s"
        yield scans_line(floor)
        yield from honest_side(floor, options["loads"])
    logging.disable(logging.NOTSET)


def scans_line(floor: Floor) -> str:
    """How many scans a whole load takes at the pages."""
    with transaction.atomic():
        scans = scans_of_a_load(copy_of(floor, floor.rng))
        transaction.set_rollback(True)
    met = "met" if scans <= MOST_SCANS else "NOT met"
    return f"a load of three layers at the pages, order to closed mould: {scans} scans; target {MOST_SCANS} {met}"


def honest_side(floor: Floor, loads: int) -> Iterator[str]:
    """Honest days told and kept: what was needlessly refused, warned of or listed."""
    told = copy_of(floor, floor.rng)
    told.before, told.tally, told.posts = told.listed(), Tally(), True
    for _done in days(told, loads):
        pass
    tally, listed = told.tally, sorted(told.listed() - told.before)
    yield f"{loads} honest loads, {tally.scans} scans"
    for words, found, target in (
        ("refusals", tally.refused, NEEDLESS_REFUSALS), ("warnings", tally.warned, NEEDLESS_WARNINGS),
        ("lines on lists", [": ".join(line) for line in listed], NEEDLESS_WARNINGS),
    ):  # fmt: skip
        share = len(found) / tally.scans * 1000
        met = "met" if share <= target else "NOT met"
        yield f"needless {words}: {len(found)}, {share:.1f} in 1000; target {target} {met}"
        yield from (f"  {one}" for one in found[:20])


def some_days_ago() -> datetime:
    """A morning early enough that all that is played has happened by now."""
    start = timezone.localtime(timezone.now() - timedelta(days=12))
    return start.replace(hour=6, minute=0, second=0, microsecond=0)


def play_all(floor: Floor, kinds: Iterable[Kind], each: int, seed: int) -> Iterator[Played]:
    """So many of each kind, those together that begin alike."""
    together: dict[Start | None, list[Kind]] = {}
    for kind in kinds:
        together.setdefault(kind.start, []).append(kind)
    for start, alike in together.items():
        with transaction.atomic():
            begun = copy_of(floor, floor.rng)
            if start:
                start(begun)
            begun.before = begun.listed()
            for kind in alike:
                for n in range(each):
                    yield play(begun, kind, n, seed)
            transaction.set_rollback(True)


def copy_of(floor: Floor, rng: Random) -> Floor:
    """The same floor, to go on with on its own."""
    assert isinstance(floor.clock, WorkingClock)  # noqa: S101
    return replace(
        floor,
        clock=WorkingClock(floor.clock.now), when="", rng=rng, inside=dict(floor.inside), made=dict(floor.made),
        codes={name: list(of) if isinstance(of, list) else of for name, of in floor.codes.items()},
        loaded={mould: dict(of) for mould, of in floor.loaded.items()},
    )  # fmt: skip


def play(floor: Floor, kind: Kind, n: int, seed: int) -> Played:
    """One mistake at the plant as it stands; what it recorded is undone."""
    story = copy_of(floor, Random(crc32(f"{seed} {kind.name} {n}".encode())))  # noqa: S311 - a seed gives the same again
    with transaction.atomic():
        try:
            kind.play(story, n)
            story.look("gate" if story.when == "gate" else "shift")
            came, by = MISSED, ""
        except CaughtError as caught:
            came, by = _came(caught), caught.by
        transaction.set_rollback(True)
    return Played(kind.name, n, came, by)


def _came(caught: CaughtError) -> str:
    if caught.when == "scan":
        return {"refused": REFUSED, "flagged": HELD}.get(caught.how, WARNED)
    return SHIFT if caught.when == "shift" else GATE_SEEN


def table(played: list[Played]) -> Iterator[str]:
    """The kinds as lines, what each came to, and by what; then the shares beside their targets, and what was missed."""
    width = max(len(one.kind) for one in played)
    yield f"{'':{width}} " + " ".join(f"{column:>{COLUMN}}" for column in COLUMNS)
    for kind in dict.fromkeys(one.kind for one in played):
        of = [one for one in played if one.kind == kind]
        by = ", ".join(dict.fromkeys(one.by for one in of if one.by))
        yield f"{kind:{width}} {_counted(of)}  {by[:160]}"
    yield f"{'all':{width}} {_counted(played)}"
    yield from _shares(played)
    yield from (f"missed: {one.kind} (variant {one.n})" for one in played if one.came == MISSED)


def _counted(played: list[Played]) -> str:
    counts = Counter(one.came for one in played)
    return " ".join(f"{counts[column] or '':>{COLUMN}}" for column in COLUMNS)


def _shares(played: list[Played]) -> Iterator[str]:
    counts = Counter(one.came for one in played)
    early = 1 - (counts[MISSED] + counts[GATE_SEEN]) / len(played)
    before = 1 - counts[MISSED] / len(played)
    for words, share, target in (
        ("refused, or seen within the shift", early, IN_SHIFT),
        ("refused, held or seen before dispatch", before, BEFORE_DISPATCH),
    ):
        yield f"{words}: {share:.1%}; target {target:.0%} {'met' if share >= target else 'NOT met'}"
