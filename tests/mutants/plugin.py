"""Plants drawn faults one after another and runs, for each, the tests that reach its line: `deploy/test --mutants`.

Each fault lives in a forked process, so that nothing of it stays. A fault is found when a test fails, raises or hangs.
What is not found is printed, with the reason from survivors.txt where somebody has looked at it.

--part 1/2 takes every second one, so that two runs, each with databases of its own, share the work. --only FILE takes
the faults named in a file (the "Not found" lines of a run) in place of drawing: what do new tests find of them?
--reach FILE keeps what the tests reach, and goes by it where it is there already; given several times, by all of them.
"""

import os
import resource
import signal
import sys
import traceback
from collections import Counter
from pathlib import Path

import pytest
from _pytest.runner import runtestprotocol

from tests.mutants.draw import FOLDERS, Mutant, drawn, named
from tests.mutants.plant import plant
from tests.mutants.reach import Reach, reach_of

ROOT = Path(__file__).resolve().parent.parent.parent
REASONS = Path(__file__).with_name("survivors.txt")
# So many quick tests are run against one fault, and others as long as all take no longer than this without the fault.
MOST_TESTS = 80
MOST_SECONDS = 60.0
# A fault that makes a test run much longer than all of them do is found: it hangs.
PATIENCE_SECONDS = 4 * int(MOST_SECONDS)
# So does one that takes far more of the processor, or of the memory, than its tests do without it.
SPARE_SECONDS, MOST_MEMORY = 20, 4 * 2**30
# Of all faults that a test reaches, so many have to be found.
WANTED = 0.85


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--mutants", type=int, default=400, help="how many faults are planted")
    parser.addoption("--seed", type=int, default=20261128, help="draws which faults")
    parser.addoption("--part", default="1/1", help="2/3: the second of three parts of what was drawn")
    parser.addoption("--reach", type=Path, action="append", default=[], help="where it is kept what the tests reach")
    parser.addoption("--patience", type=int, default=PATIENCE_SECONDS, help="seconds after which a fault hangs")
    parser.addoption("--only", type=Path, help="a file that names the faults, as a run prints them")


def pytest_runtestloop(session: pytest.Session) -> bool:
    """In place of running the tests: run them once to see what they reach, then against each fault."""
    from tests import databases  # the settings are read after pytest has loaded this file

    config = session.config
    mutants = _asked_for(config)
    items = {item.nodeid: item for item in session.items}
    print(f"{len(mutants)} faults, {len(items)} tests", flush=True)
    reach = _reach(session)
    reach.forget_all_but(items)
    databases.close_sessions()
    _sound(session, reach)
    verdicts = {}
    for number, mutant in enumerate(mutants, 1):
        chosen = _chosen(mutant, reach)
        seconds = sum(reach.seconds[name] for name in chosen)
        verdicts[mutant], by = _verdict(mutant, [items[name] for name in chosen], session, seconds)
        print(f"{number:4} {verdicts[mutant]:12} {len(chosen):3} tests  {mutant.name}  {by}", flush=True)
    return _summary(session, verdicts)


def _reach(session: pytest.Session) -> Reach:
    """As it was kept, else by running every test once."""
    kept: list[Path] = session.config.getoption("--reach")
    if kept and all(path.exists() for path in kept):
        reach = Reach.of_files(kept)
        _warm_up(session, reach)
        return reach
    include = [f"{folder}/*" if (ROOT / folder).is_dir() else folder for folder in FOLDERS]
    reach = reach_of(session.items, ROOT, include)
    if kept:
        reach.keep(kept[0])
    return reach


def _warm_up(session: pytest.Session, reach: Reach) -> None:
    """Make here what lasts for the session, by the quickest test that needs it: not anew in every forked process."""
    there: set[str] = set()
    for item in sorted(session.items, key=lambda one: reach.seconds.get(one.nodeid, MOST_SECONDS)):
        if _lasting(item) - there:
            there |= _lasting(item)
            _run(item, session)


def _lasting(item: pytest.Item) -> frozenset[str]:
    """The fixtures it takes that last for the session."""
    fixtures = getattr(item, "_fixtureinfo").name2fixturedefs  # noqa: B009 - pytest says it nowhere else
    return frozenset(name for name, made in fixtures.items() if made[-1].scope == "session")


def _sound(session: pytest.Session, reach: Reach) -> None:
    """End the run where a test fails in a forked process that has no fault in it: it would find them all. The two
    quickest of each kind are tried: those that go by the same fixtures of the session."""
    kinds: dict[frozenset[str], list[pytest.Item]] = {}
    passed = [item for item in session.items if item.nodeid in reach.seconds]
    for item in sorted(passed, key=lambda one: reach.seconds[one.nodeid]):
        kinds.setdefault(_lasting(item), []).append(item)
    verdict, by = _verdict(None, [item for items in kinds.values() for item in items[:2]], session)
    if verdict != "not found":
        pytest.exit(f"It fails in a forked process without a fault, so nothing can be judged: {by}", 1)


def _run(item: pytest.Item, session: pytest.Session) -> list[pytest.TestReport]:
    """Run a test, and take down what it does not leave to the session: any other may come next."""
    return runtestprotocol(item, log=False, nextitem=session)  # type: ignore[arg-type]


def _asked_for(config: pytest.Config) -> list[Mutant]:
    only: Path | None = config.getoption("--only")
    if only:
        return named(ROOT, only.read_text(encoding="utf-8").splitlines())
    part, parts = map(int, str(config.getoption("--part")).split("/"))
    return drawn(ROOT, config.getoption("--seed"), config.getoption("--mutants"))[part - 1 :: parts]


def _chosen(mutant: Mutant, reach: Reach) -> list[str]:
    """The tests that tell most for the time they take; then, while there is time, the most telling of the others."""
    quick, telling = reach.of(mutant.path, {mutant.line, mutant.begun})
    chosen: dict[str, None] = {}
    seconds = 0.0
    for name in (*quick[:MOST_TESTS], *telling):
        if name in chosen:
            continue
        seconds += reach.seconds[name]
        if chosen and seconds > MOST_SECONDS:
            break
        chosen[name] = None
    return list(chosen)


def _verdict(
    mutant: Mutant | None, tests: list[pytest.Item], session: pytest.Session, seconds: float = MOST_SECONDS
) -> tuple[str, str]:
    """ "found", "found: hangs", "not found", or "not reached" where no test runs the line; and which test found it.
    `seconds`: what these tests take without a fault."""
    if not tests:
        return "not reached", ""
    from tests import databases  # as above

    # Clones of a database are numbered: no two processes may make the same one.
    for _ in range(1000):
        next(databases.numbers)
    sys.stdout.flush()
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (int(2 * seconds) + SPARE_SECONDS,) * 2)
        os._exit(_in_child(mutant, tests, session, writing))
    _, status = os.waitpid(child, 0)
    os.close(writing)
    # A pipe holds more than a child writes of names, so it never waited for us.
    by = os.read(reading, 1 << 16).decode().rpartition("\n")[2]
    os.close(reading)
    if os.WIFSIGNALED(status):
        hangs = os.WTERMSIG(status) in (signal.SIGALRM, signal.SIGXCPU, signal.SIGKILL)
        return ("found: hangs" if hangs else "found"), by
    if os.WEXITSTATUS(status) == 3:
        pytest.exit(f"This fault could not be planted: {mutant and mutant.name}", 1)
    verdict = {0: "not found", 1: "found", 2: "not planted"}[os.WEXITSTATUS(status)]
    return verdict, by if verdict == "found" else ""


def _in_child(mutant: Mutant | None, tests: list[pytest.Item], session: pytest.Session, writing: int) -> int:
    signal.alarm(session.config.getoption("--patience"))
    os.write(writing, b"\n")
    try:
        if mutant and not plant(mutant, ROOT):
            return 2
    except Exception:
        traceback.print_exc()
        return 3
    try:
        for item in tests:
            os.write(writing, f"\n{item.nodeid}".encode())
            # What lasts for the session belongs to the parent; all else of this test is taken down.
            if any(report.failed for report in _run(item, session)):
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
