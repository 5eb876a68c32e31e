"""Counting visits in one file: workers share it, it keeps its size, and no visit is missed."""

import multiprocessing
from pathlib import Path
from typing import Any

from plant.visits import SLOT, SLOTS, visit
from tests.access.conftest import Clock


def test_visits_are_counted_by_address_and_minute(clock: Clock) -> None:
    assert [visit("198.51.100.1") for _ in range(3)] == [1, 2, 3]
    assert visit("198.51.100.2") == 1
    clock.on(minutes=1)
    assert visit("198.51.100.1") == 1


def test_workers_share_the_count(clock: Clock) -> None:
    """Two processes at once, 200 visits each: forked, so that they stand at the same frozen minute."""
    context = multiprocessing.get_context("fork")
    workers = [context.Process(target=_visit_often) for _ in range(2)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert visit("198.51.100.3") == 401


def test_the_file_never_grows_beyond_its_size(settings: Any) -> None:
    for n in range(500):
        visit(f"198.51.{n // 250}.{n % 250}")
    assert (Path(settings.DATA_FOLDER) / "visits").stat().st_size <= SLOTS * SLOT.size


def _visit_often() -> None:
    for _ in range(200):
        visit("198.51.100.3")
