"""Start programs in groups of their own, start again what dies, and end every one of them, whatever happened."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

from deploy.accounts import Account, as_account
from deploy.stops import FULL, StopError, disk_full

GRACE_SECONDS = 10
POLL_SECONDS = 0.05
# What a dead program left in its group gets so long to end before the program is started again: its port is needed.
LEFT_SECONDS = 1
# One that ran for SETTLED_SECONDS is started again at once, one that did not only after a rest, which doubles up to
# LONGEST_REST. One that ends by itself with an error before it settles, MOST_ENDS times in a row, is truly wrong.
SETTLED_SECONDS = 20
FIRST_REST, LONGEST_REST = 0.25, 2.0
MOST_ENDS = 5
# What the web and the worker end with when they refuse to work (plant/start.py; gunicorn has the same number for a
# worker that did not start, and the next for an application that could not be loaded).
REFUSED = (3, 4)



class Interrupted(BaseException):
    """Ctrl-C, SIGTERM or SIGHUP came: everything started has to end."""


@dataclass
class Stays:
    """A program that shall stay: how it is started, since when it runs, how often it ended before it settled (`early`)
    and how many of these by itself (`own`), and when it may be started again.
    """

    command: list[str]
    log: Path
    since: float = 0.0
    early: int = 0
    own: int = 0
    not_before: float | None = None


@dataclass
class Programs:
    """The programs of one run; record is the file in which their numbers stand, for the run after a crash."""

    record: Path
    account: Account | None
    environment: Mapping[str, str]
    folder: Path
    running: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)
    stays: dict[str, Stays] = field(default_factory=dict)

    def launch(self, name: str, command: list[str], log: Path) -> None:
        """Start a program that stays (see keep_up); what it says goes to log."""
        log.parent.mkdir(parents=True, exist_ok=True)
        self.stays[name] = Stays(command, log)
        self._start(name)

    def _start(self, name: str) -> None:
        stays = self.stays[name]
        with stays.log.open("ab") as file:
            self.running[name] = subprocess.Popen(
                stays.command,
                stdin=subprocess.DEVNULL,
                stdout=file,
                stderr=file,
                env=dict(self.environment),
                cwd=self.folder,
                start_new_session=True,
                **as_account(self.account),
            )
        stays.since, stays.not_before = time.monotonic(), None
        self._write_record()

    def run(self, what: str, command: list[str], *, role: str = "app", quiet: bool = False) -> str:
        """Run a program to its end (what it says is shown, or returned when quiet). StopError when it
        fails.
        """
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE if quiet else None,
            stderr=subprocess.PIPE,
            env={**self.environment, "LOTWRIGHT_ROLE": role},
            cwd=self.folder,
            start_new_session=True,
            **as_account(self.account),
        )
        self.running[what] = process
        try:
            self._write_record()
            out, err = process.communicate()
        except BaseException:
            end_group(process.pid)
            process.wait()
            raise
        finally:
            del self.running[what]
            self._write_record()
        said = err.decode("utf-8", "replace").strip()
        if process.returncode != 0:
            if FULL in said:
                raise disk_full(self.folder)
            last = said.splitlines()[-1] if said else f"exit code {process.returncode}"
            raise StopError(f"The set-up stopped at {what} ({last}): put this right and start again.")
        if said and not quiet:
            print(said, flush=True)
        return out.decode("utf-8", "replace") if out else ""

    def keep_up(self) -> None:
        """Start again what has ended. StopError when a program refuses to work, or ends by itself again and again."""
        for name, stays in self.stays.items():
            if stays.not_before is None:
                code = self.running[name].poll()
                if code is None:
                    continue
                self._ended(name, stays, code)
            if stays.not_before is not None and time.monotonic() >= stays.not_before:
                self._start(name)

    def _ended(self, name: str, stays: Stays, code: int) -> None:
        """Say so, end what it left behind, and put down when it may start again."""
        # Its web workers, or its beat, outlive a program that was killed for a moment.
        end_group(self.running.pop(name).pid, grace=LEFT_SECONDS)
        killed = code < 0
        if time.monotonic() - stays.since >= SETTLED_SECONDS:
            stays.early = stays.own = 0
        if code in REFUSED or (not killed and stays.own + 1 >= MOST_ENDS):
            raise self._why(name, stays)
        stays.not_before = time.monotonic() + (min(FIRST_REST * 2**stays.early, LONGEST_REST) if stays.early else 0)
        stays.early += 1
        stays.own = 0 if killed else stays.own + 1
        how = f"was ended by signal {-code}" if killed else f"ended by itself ({code})"
        print(f"The {name} {how}: it is started again.", file=sys.stderr, flush=True)

    def _why(self, name: str, stays: Stays) -> StopError:
        text = stays.log.read_text(encoding="utf-8", errors="replace")
        if FULL in text[-4000:]:
            return disk_full(stays.log)
        lines = [line for line in text.splitlines() if line.strip()]
        last = lines[-1] if lines else "nothing"
        return StopError(f"The {name} ended by itself; the last line of {stays.log} is: {last}")

    def stop(self) -> None:
        """End all groups; returns when none of their processes is left."""
        for process in self.running.values():
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGTERM)
        for process in self.running.values():
            end_group(process.pid, process)
        self.running.clear()
        self.stays.clear()
        with contextlib.suppress(OSError):
            self.record.unlink(missing_ok=True)

    def end_leftovers(self) -> None:
        """End what an earlier run left behind when it was killed outright."""
        with contextlib.suppress(FileNotFoundError, ValueError, TypeError):
            for group, started in json.loads(self.record.read_text(encoding="ascii")):
                if started and started == start_time(group):
                    end_group(group)

    def _write_record(self) -> None:
        rows = [[process.pid, start_time(process.pid)] for process in self.running.values()]
        self.record.write_text(json.dumps(rows), encoding="ascii")


def end_group(group: int, leader: subprocess.Popen[bytes] | None = None, *, grace: float | None = None) -> None:
    """SIGTERM to the group, after GRACE_SECONDS (or grace) SIGKILL; returns when no process of it is at work."""
    for number in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError):
            os.killpg(group, number)
        until = time.monotonic() + (GRACE_SECONDS if grace is None else grace)
        while time.monotonic() < until:
            if leader is not None:
                leader.poll()
            if not group_lives(group):
                if leader is not None:
                    leader.wait()
                return
            time.sleep(POLL_SECONDS)


def group_lives(group: int) -> bool:
    """True while a process of the group is at work.

    A dead one that its parent has not waited for yet still has its number, but no work; where the first
    process of
    a container waits for nobody, it has it for ever. /proc tells the two apart; without it the number counts.
    """
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    if not Path("/proc/self/stat").exists():
        return True
    for path in Path("/proc").glob("[0-9]*"):
        state, _parent, of_group = _fields(int(path.name))[:3] or ("Z", "", "")
        if of_group == str(group) and state not in {"Z", "X"}:
            return True
    return False


def raise_on_signals() -> None:
    """From now on Ctrl-C, SIGTERM and SIGHUP raise Interrupted in the main thread."""

    def interrupted(_number: int, _frame: FrameType | None) -> None:
        raise Interrupted

    signal.signal(signal.SIGINT, interrupted)
    signal.signal(signal.SIGTERM, interrupted)
    # Started with nohup, it is meant to outlive the terminal.
    if signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        signal.signal(signal.SIGHUP, interrupted)


def ignore_signals() -> None:
    """While everything is being ended, a second Ctrl-C must not leave half of it running."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_IGN)


def start_time(pid: int) -> str:
    """When the process started, in the kernel's own count (field 22, proc(5)); empty when it is not known."""
    fields = _fields(pid)
    return fields[19] if fields else ""


def _fields(pid: int) -> list[str]:
    """The fields of /proc/PID/stat from the third on (the second, a name, may hold blanks); none when it is
    gone.
    """
    try:
        text = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return []
    return text.rsplit(")", 1)[1].split()
