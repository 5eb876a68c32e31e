"""The files and the life of one private PostgreSQL cluster: initdb, start, socket, passwords.

deploy/postgres.py is what others use; this is how it does it.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import secrets
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

from deploy.accounts import Account, as_account, hand_over
from deploy.stops import FULL, StopError, disk_full

SUPERUSER = "postgres"
LOGINS = ("lotwright_migrator", "lotwright_app", "lotwright_sealer", "lotwright_auditor")
# Whose passwords stand apart, in owner.json, and nowhere while the product is served: they open the records.
OWNERS = (SUPERUSER, "lotwright_migrator")
SOCKET_NAME = ".s.PGSQL.5432"
# struct sockaddr_un has 108 bytes for the path, the closing zero among them (unix(7)).
SOCKET_LIMIT = 107
START_SECONDS = 60

# A small machine's values; the first four are what the start-up check of the product asks for.
SETTINGS = {
    "fsync": "on",
    "full_page_writes": "on",
    "synchronous_commit": "on",
    "password_encryption": "scram-sha-256",
    "listen_addresses": "",
    "unix_socket_permissions": "0700",
    "port": "5432",
    "max_connections": "60",
    "shared_buffers": "128MB",
    "log_min_messages": "warning",
    "timezone": "UTC",
    "log_timezone": "UTC",
}
# For tests whose data nobody misses; never for records.
UNSAFE_FAST = {"fsync": "off", "full_page_writes": "off", "synchronous_commit": "off"}
# Above the largest number Linux gives a process (2^22, proc(5) pid_max); other systems stay below it too.
NO_PROGRAM = 99_999_999
OLD_BACKENDS = "pre-existing shared memory block"
OLD_BACKENDS_SECONDS = 20


def run_as(
    command: list[str | Path],
    account: Account | None,
    *,
    text: str = "",
    environment: Mapping[str, str] | None = None,
) -> subprocess.CompletedProcess[str]:
    """Run one of PostgreSQL's programs as the account, in a folder that every account may enter."""
    return subprocess.run(
        [str(part) for part in command],
        check=False,
        input=text,
        capture_output=True,
        text=True,
        cwd="/",
        env=None if environment is None else dict(environment),
        **as_account(account),
    )


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """One starter or stopper at a time; a second one waits for the first."""
    with (folder / "lock").open("a", encoding="ascii") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def data_version(folder: Path) -> int | None:
    try:
        return int((folder / "data" / "PG_VERSION").read_text(encoding="ascii"))
    except FileNotFoundError:
        return None


def is_running(folder: Path) -> bool:
    """True when the postmaster that postmaster.pid names runs for this folder. Only looks, so anybody may ask."""
    named = _named(folder)
    return named is not None and _is_ours(named[0], folder)


def free_number(folder: Path) -> None:
    """Let a dead postmaster's number go, before a start. The caller holds `locked`, so nobody else starts one.

    After a crash postmaster.pid stays, and PostgreSQL does not start while any program has the number in it: a program
    that came later, or the dead postmaster that nobody has waited for. So the number is exchanged for one that no
    program can have. The file itself stays: it names the shared memory by which PostgreSQL finds old backends still
    at work.
    """
    named = _named(folder)
    if named is not None and not _is_ours(named[0], folder):
        path = folder / "data" / "postmaster.pid"
        owner, fresh = path.stat(), path.with_name("postmaster.pid.new")
        fresh.write_text(f"{NO_PROGRAM}\n{named[1]}", encoding="utf-8")
        fresh.chmod(0o600)
        if os.geteuid() == 0:
            os.chown(fresh, owner.st_uid, owner.st_gid)
        # Whole or not at all: PostgreSQL takes an empty file for another server's that is just starting.
        fresh.replace(path)


def _named(folder: Path) -> tuple[int, str] | None:
    """The number in postmaster.pid and the rest of it; None without one."""
    try:
        first, rest = (folder / "data" / "postmaster.pid").read_text(encoding="utf-8").split("\n", 1)
        return int(first), rest
    except (FileNotFoundError, ValueError):
        return None


def _is_ours(pid: int, folder: Path) -> bool:
    words = command_line(pid)
    return str(folder / "data") in words and "postgres" in words


def command_line(pid: int) -> str:
    """The words a program was started with; empty when there is none. Without /proc, ps is asked."""
    if Path("/proc/self/cmdline").exists():
        try:
            return (
                Path(f"/proc/{pid}/cmdline").read_text(encoding="utf-8", errors="replace").replace("\0", " ")
            )
        except OSError:
            return ""
    return subprocess.run(
        ["ps", "-ww", "-o", "args=", "-p", str(pid)], check=False, capture_output=True, text=True
    ).stdout.strip()


def read_passwords(folder: Path, account: Account | None) -> dict[str, str]:
    """The folder's passwords, made at the first start; without those of OWNERS where they were thrown away."""
    path = folder / "connection.json"
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))["passwords"]
        owners = folder / "owner.json"
        if owners.exists():
            kept |= json.loads(owners.read_text(encoding="utf-8"))["passwords"]
        return {str(user): str(password) for user, password in kept.items()}
    except FileNotFoundError:
        if (folder / "data" / "PG_VERSION").exists():
            raise StopError(
                f"{path} with the passwords of the private database is gone: bring it back from a copy, "
                f"or move {folder} away to begin anew."
            ) from None
    except (KeyError, ValueError):
        raise StopError(f"{path} is damaged: bring it back from a copy.") from None
    passwords = {user: secrets.token_urlsafe(24) for user in (SUPERUSER, *LOGINS)}
    keep(folder, account, passwords, "")
    return passwords


def keep(folder: Path, account: Account | None, passwords: Mapping[str, str], socket: str) -> None:
    """Write connection.json and owner.json."""
    ours = {user: password for user, password in passwords.items() if user not in OWNERS}
    _write(folder / "connection.json", account, {"passwords": ours, "socket": socket})
    _write(folder / "owner.json", account, {"passwords": {user: passwords[user] for user in OWNERS}})


def _write(path: Path, account: Account | None, content: Mapping[str, object]) -> None:
    """The file whole or not at all, readable by the account alone."""
    fresh = path.with_name(path.name + ".new")
    fresh.unlink(missing_ok=True)
    descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        json.dump(content, file, indent=1)
        file.flush()
        os.fsync(file.fileno())
    if account is not None:
        os.chown(fresh, account.uid, account.gid)
    fresh.replace(path)


def renew_owners(folder: Path, binaries: Path, account: Account | None, passwords: Mapping[str, str]) -> dict[str, str]:
    """New passwords for OWNERS, in place of those thrown away. The superuser's is set in single-user mode, in which
    nobody else can be connected and no password is asked; the server must not run.
    """
    renewed = {**passwords, **{user: secrets.token_urlsafe(24) for user in OWNERS}}
    text = f"ALTER ROLE {SUPERUSER} PASSWORD '{quoted(renewed[SUPERUSER])}'\n"
    command: list[str | Path] = [binaries / "postgres", "--single", "-D", folder / "data", SUPERUSER]
    free_number(folder)
    until = time.monotonic() + OLD_BACKENDS_SECONDS
    while True:
        run = run_as(command, account, text=text)
        said = run.stdout + run.stderr
        if run.returncode == 0 and "ERROR" not in said:
            return renewed
        if FULL in said:
            raise disk_full(folder)
        if OLD_BACKENDS not in said or time.monotonic() > until:
            raise StopError(f"The private PostgreSQL in {folder} took no new password: {last_line(run.stderr)}")
        time.sleep(0.3)


def initialise(folder: Path, binaries: Path, account: Account | None, password: str) -> None:
    """initdb beside its final place, renamed when whole, so that a broken-off one is never taken for a
    cluster.
    """
    data, fresh = folder / "data", folder / "data.new"
    password_file = folder / "password.new"
    password_file.unlink(missing_ok=True)
    descriptor = os.open(password_file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(password + "\n")
    hand_over(folder, account)
    try:
        for locale in ("C.UTF-8", "C"):
            shutil.rmtree(fresh, ignore_errors=True)
            command: list[str | Path] = [binaries / "initdb", "-k", f"--locale={locale}", "--encoding=UTF8"]
            command += ["-D", fresh, "-U", SUPERUSER, "--auth=scram-sha-256", f"--pwfile={password_file}"]
            run = run_as(command, account)
            if run.returncode == 0:
                break
            if FULL in run.stderr + run.stdout:
                raise disk_full(folder)
            if "locale" not in run.stderr:
                raise StopError(f"PostgreSQL could not make its folder {data}: {last_line(run.stderr)}")
        else:
            raise StopError(f"PostgreSQL could not make its folder {data}: {last_line(run.stderr)}")
        with (fresh / "postgresql.conf").open("a", encoding="utf-8") as file:
            file.write("include_if_exists = 'lotwright.conf'\n")
        fresh.replace(data)
    finally:
        password_file.unlink(missing_ok=True)
        if fresh.exists():
            shutil.rmtree(fresh, ignore_errors=True)


def launch(
    folder: Path,
    binaries: Path,
    account: Account | None,
    passwords: Mapping[str, str],
    settings: Mapping[str, str],
) -> None:
    """pg_ctl start with the settings, and tell where the socket is. pg_ctl gives the server a session of its
    own.
    """
    forget_socket(folder)
    socket = socket_folder(folder, account)
    lines = [f"{name} = '{quoted(value)}'\n" for name, value in settings.items()]
    lines.append(f"unix_socket_directories = '{quoted(str(socket))}'\n")
    (folder / "data" / "lotwright.conf").write_text("".join(lines), encoding="utf-8")
    keep(folder, account, passwords, str(socket))
    try:
        relaunch(folder, binaries, account)
    except StopError:
        forget_socket(folder)
        raise


def relaunch(folder: Path, binaries: Path, account: Account | None) -> None:
    """pg_ctl start with the settings, the passwords and the socket of the last launch: who was told where it is goes on
    as before. The server must not run.
    """
    socket = Path(json.loads((folder / "connection.json").read_text(encoding="utf-8"))["socket"])
    _remove_stale(socket)
    free_number(folder)
    log = folder / "log"
    log.touch(mode=0o600)
    hand_over(folder, account)
    before = log.stat().st_size
    command: list[str | Path] = [binaries / "pg_ctl", "start", "-D", folder / "data", "-l", log, "-w"]
    until = time.monotonic() + OLD_BACKENDS_SECONDS
    while True:
        run = run_as([*command, "-t", str(START_SECONDS)], account)
        said = log.read_bytes()[before:].decode("utf-8", "replace") + run.stderr
        # After a kill of the postmaster its backends live on for some seconds; they must end first.
        if run.returncode == 0 or OLD_BACKENDS not in said or time.monotonic() > until:
            break
        before = log.stat().st_size
        time.sleep(0.3)
    if run.returncode != 0:
        if FULL in said:
            raise disk_full(folder)
        fatal = [line for line in said.splitlines() if "FATAL" in line or "PANIC" in line]
        raise StopError(
            f"The private PostgreSQL did not start; {log} says: {last_line(chr(10).join(fatal) or said)}"
        )


def socket_folder(folder: Path, account: Account | None) -> Path:
    """Where the socket goes: in the folder, or in a short one of its own when the path would be too long."""
    place = folder / "socket"
    # A comma would part two folders, for the server and for its clients.
    if len(os.fsencode(place / SOCKET_NAME)) > SOCKET_LIMIT or "," in str(place):
        short = tempfile.gettempdir()
        if len(os.fsencode(short)) > SOCKET_LIMIT - 40:
            short = "/tmp"  # noqa: S108 - mkdtemp below makes a folder of its own, closed to others
        place = Path(tempfile.mkdtemp(prefix="lotwright-", dir=short))
    hand_over(place, account)
    place.chmod(0o700)
    return place


def forget_socket(folder: Path) -> None:
    """Remove the socket of a server that no longer runs, and its folder when that lies outside the
    server's.
    """
    with contextlib.suppress(OSError, ValueError, KeyError):
        socket = Path(json.loads((folder / "connection.json").read_text(encoding="utf-8"))["socket"])
        if socket == folder / "socket" or socket.name.startswith("lotwright-"):
            _remove_stale(socket)
            socket.rmdir()


def _remove_stale(socket: Path) -> None:
    """The socket of a dead server and its lock, which holds the number of a process: a killed postmaster keeps that
    number until somebody has waited for it, and PostgreSQL would take it for one at work.
    """
    for name in (SOCKET_NAME, SOCKET_NAME + ".lock"):
        (socket / name).unlink(missing_ok=True)


def quoted(value: str) -> str:
    return value.replace("'", "''")


def last_line(text: str) -> str:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return lines[-1] if lines else "nothing"
