"""A whole plant to break: a PostgreSQL of its own, web and job worker, kept up as deploy/demo keeps them up."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import psycopg

from deploy import postgres
from deploy.accounts import hand_over
from deploy.cluster import UNSAFE_FAST, is_running, run_as
from deploy.processes import Programs
from deploy.run_demo import LOOK_SECONDS, worker_words
from tests.databases import ROOT, Database

# What is answered was handed to the system, which outlives a kill; only a power cut would be felt.
WRITTEN = {**UNSAFE_FAST, "synchronous_commit": "on"}


WEB_WORKERS = 2


@dataclass
class House:
    """What runs, and how to break it. `failed` is what the keeper gave up over, if it did; `killed` all that was."""

    database: Database
    programs: Programs
    port: int
    failed: list[str] = field(default_factory=list)
    killed: set[int] = field(default_factory=set)
    _held: list[psycopg.Connection] = field(default_factory=list)

    def postmaster(self) -> int:
        with contextlib.suppress(OSError, ValueError):
            pid = (self.database.server.folder / "data" / "postmaster.pid").read_text().split("\n", 1)[0]
            return int(pid) if is_running(self.database.server.folder) else 0
        return 0

    def whole(self) -> bool:
        """Whether something runs in the place of everything that was killed."""
        running, postmaster = self.programs.running, self.postmaster()
        web, worker = running.get("web server"), running.get("worker")
        if web is None or worker is None or not postmaster:
            return False
        workers = set(_children(web.pid))
        now = {web.pid, worker.pid, postmaster} | workers | set(_children(postmaster))
        return len(workers) == WEB_WORKERS and not now & self.killed

    def _kill(self, pid: int) -> None:
        # Somebody else may have been quicker: nothing is there to kill then.
        if pid:
            self.killed.add(pid)
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)

    def log(self) -> str:
        """The end of what the web said."""
        return self.programs.stays["web server"].log.read_text(errors="replace")[-6000:]

    def web_worker(self) -> None:
        """One of gunicorn's workers."""
        self._kill(max(_children(self.programs.running["web server"].pid), default=0))

    def web_server(self) -> None:
        """gunicorn itself; its workers end by themselves or are ended."""
        self._kill(self.programs.running["web server"].pid)

    def job_worker(self) -> None:
        self._kill(self.programs.running["worker"].pid)

    def a_backend(self) -> None:
        """SIGKILL for the process behind one session: PostgreSQL ends all of them and recovers."""
        self._kill(max(_children(self.postmaster()), default=0))

    def all_sessions(self) -> None:
        """Every session of the app is terminated, as an administrator may do it."""
        with contextlib.suppress(psycopg.OperationalError), self.database.connect("postgres") as superuser:
            superuser.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = 'lotwright_app'")

    def whole_database(self) -> None:
        """SIGKILL for the postmaster: nobody but the keeper starts it again."""
        self._kill(self.postmaster())

    def restart(self) -> None:
        """Stopped at once without a shutdown; it recovers at its next start."""
        server = self.database.server
        self.killed.add(self.postmaster())
        run_as([server.binaries / "pg_ctl", "stop", "-D", server.folder / "data", "-m", "immediate"], server.account)

    def no_connection_left(self) -> None:
        """All that may be had are taken, and the app's own ended; given back after a second."""
        self.all_sessions()
        until = time.monotonic() + 1
        with contextlib.suppress(psycopg.OperationalError):
            while time.monotonic() < until:
                self._held.append(psycopg.connect(self.database.url("auditor"), connect_timeout=2))
        time.sleep(max(0.0, until - time.monotonic()))
        while self._held:
            self._held.pop().close()


KINDS = (
    "web_worker", "a_backend", "job_worker", "whole_database", "all_sessions", "restart", "web_server",
    "no_connection_left",
)  # fmt: skip


def _children(parent: int) -> list[int]:
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            state, of = (folder / "stat").read_text().rsplit(")", 1)[1].split()[:2]
            if int(of) == parent and state != "Z":
                found.append(int(folder.name))
    return found


@contextlib.contextmanager
def house(template: Database, *, fsync: bool) -> Iterator[House]:
    """Copy the template's server (its files, copied by PostgreSQL), start all that a plant runs, keep it up."""
    folder = Path(tempfile.mkdtemp(prefix="lotwright-faults-"))
    folder.chmod(0o755)
    try:
        server = _copied(template.server, folder / "postgres", fsync=fsync)
        with _kept_up(Database(server, template.name), folder) as found:
            yield found
    finally:
        postgres.stop(folder / "postgres")
        shutil.rmtree(folder, ignore_errors=True)


def _copied(source: postgres.Server, folder: Path, *, fsync: bool) -> postgres.Server:
    hand_over(folder, source.account)
    copy = subprocess.run(
        [str(source.binaries / "pg_basebackup"), "-D", str(folder / "data"), "--checkpoint=fast", "--no-sync",
         "-d", source.url("postgres", "postgres")],
        check=False, capture_output=True, text=True,
    )  # fmt: skip
    assert copy.returncode == 0, copy.stderr
    for path in source.folder.glob("*.json"):
        shutil.copy(path, folder / path.name)
    hand_over(folder, source.account)
    return postgres.start(folder, settings={} if fsync else WRITTEN, binaries=source.binaries)


@contextlib.contextmanager
def _kept_up(database: Database, folder: Path) -> Iterator[House]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**database.environment, "DATA_FOLDER": str(folder), "CELERY_BROKER_URL": ""}
    programs = Programs(folder / "programs.json", None, environment, ROOT)
    web = [sys.executable, "-m", "gunicorn", "plant.wsgi", "--no-control-socket", f"--bind=127.0.0.1:{port}"]
    web += [f"--workers={WEB_WORKERS}", "--threads=4", "--worker-class=gthread", "--preload", "--graceful-timeout=2"]
    found, done = House(database, programs, port), threading.Event()
    keeper = postgres.KeptUp(database.server)

    def keep() -> None:
        try:
            while not done.wait(LOOK_SECONDS):
                keeper.keep_up()
                programs.keep_up()
        except Exception as error:
            found.failed.append(repr(error))

    web += ["--log-level=warning"]
    programs.launch("web server", web, folder / "web.log")
    programs.launch("worker", worker_words(environment), folder / "worker.log")
    thread = threading.Thread(target=keep)
    thread.start()
    try:
        yield found
    finally:
        done.set()
        thread.join()
        programs.stop()

