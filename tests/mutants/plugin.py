"""Plants drawn faults one after another and runs, for each, the tests that reach its line: `deploy/test --mutants`.

Each fault lives in a forked process, so that nothing of it stays. A fault is found when a test fails, raises or hangs.
What is not found is printed, with the reason from survivors.txt where somebody has looked at it.
"""

import os
import signal
import sys
from collections import Counter
from itertools import islice
from pathlib import Path

import pytest
from _pytest.runner import runtestprotocol
from django.db import connections

from tests import databases
from tests.mutants.draw import FOLDERS, Mutant, drawn
from tests.mutants.plant import plant
from tests.mutants.reach import Reach, reach_of

ROOT = Path(__file__).resolve().parent.parent.parent
REASONS = Path(__file__).with_name("survivors.txt")
# So many tests, taking so long without the fault, are run against one fault; the quickest come first.
MOST_TESTS = 80
MOST_SECONDS = 60.0
# A fault that makes a test run much longer than all of them do is found: it hangs.
PATIENCE_SECONDS = 240
# Of all faults that a test reaches, so many have to be found.
WANTED = 0.85


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--mutants", type=int, default=400, help="how many faults are planted")
    parser.addoption("--seed", type=int, default=20261128, help="draws which faults")


def pytest_runtestloop(session: pytest.Session) -> bool:
    """In place of running the tests: run them once to see what they reach, then against each fault."""
    config = session.config
    mutants = drawn(ROOT, config.getoption("--seed"), config.getoption("--mutants"))
    items = {item.nodeid: item for item in session.items}
    include = [f"{folder}/*" if (ROOT / folder).is_dir() else folder for folder in FOLDERS]
    print(f"{len(mutants)} faults; {len(items)} tests are run once to see what each reaches", flush=True)
    reach = reach_of(session.items, ROOT, include)
    connections.close_all()
    verdicts = {}
    for number, mutant in enumerate(mutants, 1):
        chosen = _chosen(mutant, reach)
        verdicts[mutant] = _verdict(mutant, [items[name] for name in chosen], session.items[0])
        print(f"{number:4} {verdicts[mutant]:12} {len(chosen):3} tests  {mutant.name}", flush=True)
    return _summary(session, verdicts)


def _chosen(mutant: Mutant, reach: Reach) -> list[str]:
    chosen: list[str] = []
    seconds = 0.0
    for name in islice(reach.of(mutant.path, {mutant.line, mutant.begun}), MOST_TESTS):
        seconds += reach.seconds[name]
        if chosen and seconds > MOST_SECONDS:
            break
        chosen.append(name)
    return chosen


def _verdict(mutant: Mutant, tests: list[pytest.Item], following: pytest.Item) -> str:
    """ "found", "found: hangs", "not found", or "not reached" where no test runs the line."""
    if not tests:
        return "not reached"
    # Clones of a database are numbered: no two processes may make the same one.
    for _ in range(1000):
        next(databases.numbers)
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        os._exit(_in_child(mutant, tests, following))
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return "found: hangs" if os.WTERMSIG(status) == signal.SIGALRM else "found"
    return {0: "not found", 1: "found", 2: "not planted"}[os.WEXITSTATUS(status)]


def _in_child(mutant: Mutant, tests: list[pytest.Item], following: pytest.Item) -> int:
    signal.alarm(PATIENCE_SECONDS)
    try:
        if not plant(mutant, ROOT):
            return 2
        for item in tests:
            # The session's own fixtures belong to the parent: there is always a test to come.
            if any(report.failed for report in runtestprotocol(item, log=False, nextitem=following)):
                return 1
    except BaseException:
        return 1
    return 0


def _summary(session: pytest.Session, verdicts: dict[Mutant, str]) -> bool:
    counted = Counter(verdict.split(":")[0] for verdict in verdicts.values())
    reasons = dict(line.split("  ", 1) for line in REASONS.read_text(encoding="utf-8").splitlines() if "  " in line)
    print("\nNot found:", flush=True)
    for mutant, verdict in verdicts.items():
        if not verdict.startswith("found"):
            print(f"  {mutant.name} ({verdict}): {reasons.get(mutant.key, 'nobody has looked at it yet')}")
    # Planted nowhere: the function ran only while the program started.
    judged = len(verdicts) - counted["not planted"]
    share = counted["found"] / judged if judged else 0.0
    print(f"{counted['found']} of {judged} faults found: {share:.1%} ({WANTED:.0%} wanted); {dict(counted)}")
    session.testscollected = judged
    session.testsfailed = 0 if share >= WANTED else 1
    return True
