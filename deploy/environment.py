"""Make .venv with the pinned requirements, and the environment that the project's programs run in."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

from deploy.accounts import Account, can_run
from deploy.stops import FULL, StopError, disk_full

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PYTHON = VENV / "bin" / "python"
REQUIREMENTS = ROOT / "deploy" / "requirements.txt"
STAMP = VENV / "requirements.sha256"

NAMES = ("python3", "python3.11", "python3.12", "python3.13", "python3.14")
PLACES = ("", "/usr/bin/", "/usr/local/bin/")
NEW_ENOUGH = "import sys; sys.exit(sys.version_info < (3, 11))"
# What another database, another Python or another folder would bring in by mistake.
LEFT_OUT = frozenset(
    {"DATABASE_URL", "MIGRATE_DATABASE_URL", "SEAL_DATABASE_URL", "AUDIT_DATABASE_URL", "LOTWRIGHT_ROLE"}
    | {"DATABASE_URL_FILE", "MIGRATE_DATABASE_URL_FILE", "SEAL_DATABASE_URL_FILE", "AUDIT_DATABASE_URL_FILE"}
    | {"PYTHONSAFEPATH", "PYTHONHOME", "VIRTUAL_ENV", "DJANGO_SETTINGS_MODULE"}
)


def make_venv(account: Account | None, *, must: bool = True) -> None:
    """Make .venv and install the requirements by plain pip; nothing happens when both are as wanted.

    account: who besides this user shall be able to run its Python; with must=False a Python that only this
    user can
    run will do as well (tests run as this user). Raises StopError with one sentence.
    """
    wanted = hashlib.sha256(REQUIREMENTS.read_bytes()).hexdigest()
    usable = can_run(PYTHON, None, "-c", "import pip") and (not must or can_run(PYTHON, account, "-c", ""))
    if usable and STAMP.exists() and STAMP.read_text(encoding="ascii").strip() == wanted:
        return
    if not usable:
        if VENV.is_symlink():
            # Making it anew would empty the folder behind the link, which others may be using.
            raise StopError(
                f"{VENV} is a link to {VENV.resolve()}, which cannot be used here: remove the link and run the same "
                "command again."
            )
        base = base_python(account, must=must)
        print(f"Making .venv with {base} ...", flush=True)
        _step([base, "-I", "-m", "venv", "--clear", str(VENV)], "making .venv")
    print("Installing the requirements into .venv (the first time takes a minute or two) ...", flush=True)
    pip = [str(PYTHON), "-I", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--no-input"]
    _step(
        [*pip, "--root-user-action=ignore", "--require-hashes", "-r", str(REQUIREMENTS)],
        "installing deploy/requirements.txt by pip",
    )
    STAMP.write_text(wanted + "\n", encoding="ascii")


def base_python(account: Account | None, *, must: bool = True) -> str:
    """A Python of 3.11 or newer with venv and ensurepip that the account may run (without must: at least this
    user).
    """
    given = [sys.executable] if sys.prefix == sys.base_prefix else []
    found = [*given, *(shutil.which(place + name) for place in PLACES for name in NAMES)]
    candidates = [path for path in dict.fromkeys(found) if path and can_run(path, None, "-c", NEW_ENOUGH)]
    whole = [path for path in candidates if can_run(path, None, "-I", "-c", "import ensurepip, venv")]
    if not whole:
        version = f"{sys.version_info.major}.{sys.version_info.minor}"
        raise StopError(
            f"{sys.executable} lacks its venv or ensurepip module, so .venv cannot be made: install them "
            f"(on Debian: apt-get install python{version}-venv) and run the same command again."
        )
    for path in whole:
        if can_run(path, account, "-I", "-c", "import encodings, ssl"):
            return path
    if not must:
        return whole[0]
    raise StopError(
        f"{whole[0]} cannot be run by the user {account.name if account else 'here'}, as whom the web runs "
        "when root starts it: install Python in a place open to all (on Debian: apt-get install python3 "
        "python3-venv), or run as an ordinary user."
    )


def program_environment(data_folder: Path, account: Account | None) -> dict[str, str]:
    """The environment of the project's programs: this one, without other databases, with the project's
    folders.
    """
    kept = {k: v for k, v in os.environ.items() if k not in LEFT_OUT and not k.startswith("PG")}
    kept |= {
        "PATH": f"{VENV / 'bin'}{os.pathsep}{os.environ.get('PATH', os.defpath)}",
        "PYTHONPATH": str(ROOT),
        "PYTHONUNBUFFERED": "1",
        "DATA_FOLDER": str(data_folder),
    }
    if account is not None:
        kept |= {"HOME": str(data_folder), "USER": account.name, "LOGNAME": account.name}
    return kept


def _step(command: list[str], what: str) -> None:
    """Run one step of the set-up; on failure one sentence with the last thing it said."""
    run = subprocess.run(command, check=False, capture_output=True, text=True, cwd=ROOT)
    if run.returncode == 0:
        return
    said = run.stdout + run.stderr
    if FULL in said:
        raise disk_full(ROOT)
    errors = [line.strip() for line in said.splitlines() if "error" in line.lower()] or said.split("\n")
    last = next((line for line in reversed(errors) if line.strip()), "nothing was said")
    raise StopError(f"The set-up stopped at {what} ({last}): put this right and run the same command again.")
