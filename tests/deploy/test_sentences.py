"""What is in the way of a set-up is said in one sentence with the remedy, without traceback, with exit code
1.
"""

import errno
import fcntl
import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from deploy import environment, postgres, processes, run_demo
from deploy.accounts import unprivileged
from deploy.stops import StopError, from_os_error

ROOT = Path(__file__).resolve().parents[2]
AS_ROOT = os.geteuid() == 0
Run = Callable[..., subprocess.CompletedProcess[str]]


def the_sentence(run: subprocess.CompletedProcess[str]) -> str:
    """The one line on standard error; fails when there is more or when the exit code is not 1."""
    assert run.returncode == 1, run
    assert run.stdout == ""
    assert run.stderr.count("\n") == 1, run.stderr
    assert "Traceback" not in run.stderr
    return run.stderr.strip()


def folder_with_programs(folder: Path, **programs: str) -> Path:
    """A PATH of its own: the programs given as sh scripts, and the two that deploy/demo itself uses."""
    folder.mkdir(exist_ok=True)
    for name in ("dirname", "head"):
        (folder / name).symlink_to(str(shutil.which(name)))
    for name, text in programs.items():
        (folder / name).write_text(f"#!/bin/sh\n{text}\n")
        (folder / name).chmod(0o755)
    return folder


def test_taken_port(tree: Path, demo: Run, open_folder: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        for words, environment_ in (((f"--port={port}",), {}), ((), {"DEMO_PORT": str(port)})):
            sentence = the_sentence(demo(tree, *words, **environment_))
            assert sentence.startswith(f"Port {port} on 127.0.0.1 is taken by another program: end that one")
    assert "from 1 to 65535" in the_sentence(demo(tree, "--port=70000"))
    assert "DEMO_PORT is 'x', but it must be a whole number" in the_sentence(demo(tree, DEMO_PORT="x"))


def test_folder_that_may_not_be_written(tree: Path, demo: Run) -> None:
    tree.chmod(0o555)
    try:
        sentence = the_sentence(demo(tree, "--port=8799", drop=True))
    finally:
        tree.chmod(0o755)
    assert sentence.startswith(f"This user may not write {tree / 'var'}: run as its owner")


def test_wrong_python(tree: Path, demo: Run, open_folder: Path) -> None:
    path = folder_with_programs(
        open_folder / "bin", python3='[ "$1" = -V ] && echo Python 3.8.20 && exit 0\nexit 1'
    )
    sentence = the_sentence(demo(tree, PATH=str(path)))
    assert sentence.startswith(
        f"Python 3.11 or newer is needed and was not found ({path}/python3 is Python 3.8.20)"
    )
    (path / "python3").unlink()
    assert "Python 3.11 or newer is needed and was not found: install it" in the_sentence(
        demo(tree, PATH=str(path))
    )
    assert "was not found: install it" in the_sentence(demo(tree, PATH=str(path), PYTHON="/none/python3"))


def test_python_without_ensurepip(open_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A Python as a bare distribution has it: `import ensurepip` fails."""
    text = f'case "$*" in *ensurepip*) exit 1;; esac\nexec {sys.executable} "$@"'
    path = folder_with_programs(open_folder / "bin", python3=text)
    monkeypatch.setenv("PATH", str(path))
    monkeypatch.setattr(environment, "PLACES", ("",))
    monkeypatch.setattr(sys, "prefix", "in a .venv, so that this Python is not asked")
    with pytest.raises(
        StopError, match=r"lacks its venv or ensurepip module.*apt-get install python3.*-venv"
    ):
        environment.base_python(None)


def test_a_venv_behind_a_link_is_not_emptied(open_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It may be another project's: here it cannot be used, there it can."""
    theirs = open_folder / "theirs"
    theirs.mkdir()
    (theirs / "kept").touch()
    (open_folder / ".venv").symlink_to(theirs)
    monkeypatch.setattr(environment, "VENV", open_folder / ".venv")
    monkeypatch.setattr(environment, "PYTHON", open_folder / ".venv" / "bin" / "python")
    with pytest.raises(StopError, match=r"is a link to .*theirs, which cannot be used here: remove the link"):
        environment.make_venv(None, must=False)
    assert (theirs / "kept").exists()


@pytest.mark.skipif(not AS_ROOT, reason="only root starts programs as another user")
def test_closed_parent_as_root(tree: Path, demo: Run, open_folder: Path) -> None:
    open_folder.chmod(0o700)
    sentence = the_sentence(demo(tree, "--port=8799"))
    assert sentence.startswith(
        f"The folder {open_folder} is closed to other users, PostgreSQL may not run as root"
    )
    assert f"chmod o+x {open_folder}" in sentence
    open_folder.chmod(0o755)
    (tree / "manage.py").chmod(0o600)
    assert f"run chmod -R a+rX {tree}" in the_sentence(demo(tree, "--port=8799"))


def test_second_demo_in_the_same_folder(tree: Path, demo: Run, open_folder: Path) -> None:
    data = open_folder / "var"
    data.mkdir()
    with (data / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        sentence = the_sentence(demo(tree, "--port=8799", DATA_FOLDER=str(data)))
    assert sentence.startswith(f"A demo is already at work in {data}")


FULL = "could not write to file: No space left on device"


@pytest.mark.parametrize("step", ["initdb", "pg_ctl", "psql"])
def test_full_disk(open_folder: Path, step: str) -> None:
    """Programs that say what PostgreSQL's say on a full disk, at each step of a start."""
    programs = {
        "postgres": "echo 'postgres (PostgreSQL) 18.6'",
        "initdb": 'while [ "$1" != -D ]; do shift; done; mkdir "$2"; echo 18 > "$2/PG_VERSION"',
        "pg_ctl": "true",
        "psql": "true",
    }
    programs[step] = f"echo 'error: {FULL}' >&2; exit 1"
    binaries = folder_with_programs(open_folder / "bin", **programs)
    folder = open_folder / "postgres"
    with pytest.raises(StopError, match=rf"The disk that holds {folder} is full: free some space"):
        postgres.start(folder, binaries=binaries)
    assert not (folder / "data.new").exists()
    assert not (folder / "password.new").exists()
    assert (folder / "data").exists() is (step != "initdb")
    shutil.rmtree(folder)


@pytest.mark.skipif(not AS_ROOT, reason="only root mounts a small disk")
def test_really_full_disk(open_folder: Path) -> None:
    disk = open_folder / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=8m", "none", str(disk)], check=False, capture_output=True
    )
    if mounted.returncode != 0:
        pytest.skip("this machine lets nobody mount")
    try:
        disk.chmod(0o755)
        with pytest.raises(StopError, match="is full: free some space"):
            postgres.start(disk / "postgres")
        assert not (disk / "postgres" / "data").exists()
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_full_disk_in_a_step_of_the_set_up(open_folder: Path) -> None:
    programs = processes.Programs(open_folder / "record", unprivileged(), dict(os.environ), open_folder)
    with pytest.raises(StopError, match="is full: free some space"):
        programs.run("migrate", ["/bin/sh", "-c", f"echo '{FULL}' >&2; exit 3"])
    with pytest.raises(StopError, match=r"stopped at migrate \(second line\): put this right"):
        programs.run("migrate", ["/bin/sh", "-c", "echo first line >&2; echo second line >&2; exit 3"])


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "is full"),
        (errno.EDQUOT, "is full"),
        (errno.EACCES, "may not write"),
        (errno.EROFS, "may only be read"),
        (errno.EIO, "Input/output error"),
    ],
)
def test_errors_of_the_system(number: int, words: str) -> None:
    sentence = str(from_os_error(OSError(number, os.strerror(number), "/srv/var/x"), "/srv/var"))
    assert words in sentence
    assert "/srv/var/x" in sentence


def test_stubborn_programs_are_ended(open_folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that ignores SIGTERM, and the child that it left in its group, are gone after stop()."""
    monkeypatch.setattr(processes, "GRACE_SECONDS", 0.3)
    programs = processes.Programs(open_folder / "record", None, dict(os.environ), open_folder)
    programs.launch("stubborn", ["/bin/sh", "-c", "trap '' TERM; sleep 60 & sleep 60"], open_folder / "log")
    group = programs.running["stubborn"].pid
    programs.stop()
    assert not processes.group_lives(group)
    assert not (open_folder / "record").exists()


def test_leftovers_of_a_killed_run_are_ended_and_others_are_not(open_folder: Path) -> None:
    start = "setsid sleep 60 >/dev/null 2>&1 & echo $!"
    left = int(subprocess.run(["/bin/sh", "-c", start], check=True, capture_output=True, text=True).stdout)
    until = time.monotonic() + 10
    while not processes.group_lives(left) and time.monotonic() < until:
        time.sleep(0.01)  # until it has made its group
    record = open_folder / "record"
    programs = processes.Programs(record, None, dict(os.environ), open_folder)
    record.write_text(f'[[{left}, "1"]]')  # the number is another program's by now
    programs.end_leftovers()
    assert processes.group_lives(left)
    record.write_text(json.dumps([[left, processes.start_time(left)]]))
    programs.end_leftovers()
    assert not processes.group_lives(left)


def test_requirements_have_hashes_and_no_addresses() -> None:
    text = (ROOT / "deploy" / "requirements.txt").read_text()
    pins = [line for line in text.splitlines() if line and not line.startswith((" ", "#"))]
    assert pins
    assert all(line.endswith("\\") and "==" in line for line in pins)
    assert text.count("\n    --hash=sha256:") >= len(pins)
    assert "://" not in text
    assert "--index" not in text
    assert "/tmp" not in text  # noqa: S108 - a word looked for, no file


def test_free_port_is_accepted() -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    run_demo.check_port(port)
