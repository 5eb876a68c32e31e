"""Start programs in groups of their own and end every one of them, whatever happened."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

from deploy.accounts import Account, as_account
from deploy.stops import FULL, StopError, disk_full

GRACE_SECONDS = 10
POLL_SECONDS = 0.05


class Interrupted(BaseException):
    """Ctrl-C, SIGTERM or SIGHUP came: everything started has to end."""


@dataclass
class Programs:
    """The programs of one run; record is the file in which their numbers stand, for the run after a crash."""

    record: Path
    account: Account | None
    environment: Mapping[str, str]
    folder: Path
    running: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)
    logs: dict[str, Path] = field(default_factory=dict)

    def launch(self, name: str, command: list[str], log: Path) -> None:
        """Start a program that stays; what it says goes to log."""
        log.parent.mkdir(parents=True, exist_ok=True)
        with log.open("ab") as file:
            self.running[name] = subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=file,
                stderr=file,
                env=dict(self.environment),
                cwd=self.folder,
                start_new_session=True,
                **as_account(self.account),
            )
        self.logs[name] = log
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

    def check(self) -> None:
        """StopError when one of the programs that should stay has ended."""
        for name, process in self.running.items():
            if process.poll() is not None:
                text = self.logs[name].read_text(encoding="utf-8", errors="replace")
                if FULL in text[-4000:]:
                    raise disk_full(self.logs[name])
                lines = [line for line in text.splitlines() if line.strip()]
                raise StopError(
                    f"The {name} ended by itself; the last line of {self.logs[name]} is: "
                    f"{lines[-1] if lines else 'nothing'}"
                )

    def stop(self) -> None:
        """End all groups; returns when none of their processes is left."""
        for process in self.running.values():
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGTERM)
        for process in self.running.values():
            end_group(process.pid, process)
        self.running.clear()
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


def end_group(group: int, leader: subprocess.Popen[bytes] | None = None) -> None:
    """SIGTERM to the group, after GRACE_SECONDS SIGKILL; returns when no process of it is at work."""
    for number in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError):
            os.killpg(group, number)
        until = time.monotonic() + GRACE_SECONDS
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
