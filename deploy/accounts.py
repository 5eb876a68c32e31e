"""Who runs the database and the web: the one who starts, or `nobody` when root starts."""

from __future__ import annotations

import os
import pwd
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from deploy.stops import StopError


@dataclass(frozen=True)
class Account:
    """A user of the machine; uid and gid are numbers."""

    name: str
    uid: int
    gid: int


def unprivileged() -> Account | None:
    """None for an ordinary user (programs run as that user); `nobody` when root starts.

    PostgreSQL refuses to run as root, and initdb fails under a uid without a line in passwd, so the account
    must be a named one.
    """
    if os.geteuid() != 0:
        return None
    try:
        entry = pwd.getpwnam("nobody")
    except KeyError:
        raise StopError(
            "PostgreSQL may not run as root and this machine has no user nobody: run as an ordinary user."
        ) from None
    return Account(entry.pw_name, entry.pw_uid, entry.pw_gid)


def as_account(account: Account | None) -> dict[str, Any]:
    """Arguments for subprocess that drop to the account and leave root's groups behind (none without
    account).
    """
    if account is None:
        return {}
    return {"user": account.uid, "group": account.gid, "extra_groups": []}


def can_run(program: Path | str, account: Account | None, *arguments: str) -> bool:
    """True when the account may start the program and it ends with 0."""
    try:
        run = subprocess.run(
            [str(program), *arguments],
            check=False,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=30,
            cwd="/",
            **as_account(account),
        )
    except (OSError, subprocess.SubprocessError):
        return False
    return run.returncode == 0


def check_crossing(path: Path, account: Account | None) -> None:
    """Stop with one sentence when a folder on the way to path is closed to the account.

    Only the mode bits are looked at: they are what a person can mend, and the sentence must name the folder.
    """
    if account is None:
        return
    absolute = Path(os.path.realpath(path))
    for folder in reversed([absolute, *absolute.parents]):
        if not folder.is_dir():
            continue
        status = folder.stat()
        if status.st_uid == account.uid:
            needed = 0o100
        elif status.st_gid == account.gid:
            needed = 0o010
        else:
            needed = 0o001
        if not status.st_mode & needed:
            raise StopError(
                f"The folder {folder} is closed to other users, PostgreSQL may not run as root, and the user "
                f"{account.name} cannot get through: move the project to a folder open to all (as /srv is), "
                f"open the way with chmod o+x {folder}, or run as an ordinary user."
            )


def hand_over(folder: Path, account: Account | None, mode: int = 0o700) -> None:
    """Make the folder when missing and, as root, give it and what it holds to the account.

    Files with more than one name are left alone: a hard link could lead to a file that is not ours.
    """
    folder.mkdir(parents=True, exist_ok=True)
    if account is None:
        return
    os.chown(folder, account.uid, account.gid)
    folder.chmod(mode)
    for base, folders, files in os.walk(folder):
        for name in [*folders, *files]:
            path = Path(base) / name
            status = path.lstat()
            if status.st_uid == 0 and (path.is_dir() or status.st_nlink == 1):
                os.chown(path, account.uid, account.gid, follow_symlinks=False)
