"""Set everything up and run the product with the demo plant until Ctrl-C: `deploy/demo` starts this.

In order: port, folders, .venv, private PostgreSQL, tables, static files, demo plant, certificate (with --network), web
and worker, address.
"""

from __future__ import annotations

import argparse
import contextlib
import errno
import fcntl
import http.client
import os
import socket
import sys
import time
from collections.abc import Iterator, Mapping
from http import HTTPStatus
from pathlib import Path

from deploy import postgres, reader
from deploy.accounts import Account, can_run, check_crossing, hand_over, unprivileged
from deploy.environment import PYTHON, ROOT, make_venv, program_environment
from deploy.network import FETCHED, LOOPBACK, Site, own_addresses
from deploy.processes import Interrupted, Programs, ignore_signals, raise_on_signals
from deploy.stops import StopError, from_os_error
from plant.env import PRIVATE_DATABASE, env_int

PORT = 8765
ANSWER_SECONDS = 60
LOOK_SECONDS = 0.2
STAMP = "demo-built"


def main() -> int:
    """The command line; 0 when ended by Ctrl-C or SIGTERM, 1 after one sentence on what is in the way."""
    parser = argparse.ArgumentParser(prog="deploy/demo", description="Run Lotwright with the demo plant.")
    parser.add_argument("--port", type=int, help=f"port on {LOOPBACK} (default DEMO_PORT, else {PORT})")
    parser.add_argument(
        "--network",
        action="store_true",
        help="serve the local network too, over https with a certificate made for this machine, so that a phone's "
        "camera can be tried. Everybody in the network can then open the demo, and its badges, PINs and passwords are "
        "public: only in a network that you trust. Without it only this machine can open the demo",
    )
    parser.add_argument(
        "--season",
        action="store_true",
        help="serve a whole invented year of about 600 mouldings in place of the few weeks, in a database of its own; "
        "told the first time, which takes some minutes, and kept",
    )
    arguments = parser.parse_args()
    data_folder = Path(os.environ.get("DATA_FOLDER") or ROOT / "var").resolve()
    if arguments.season:
        data_folder /= "season"
    raise_on_signals()
    # What root makes here must be readable by the user it hands the work to.
    os.umask(0o022)
    try:
        port = (
            arguments.port if arguments.port is not None else env_int("DEMO_PORT", PORT, least=1, most=65535)
        )
        addresses = own_addresses() if arguments.network else None
        site = Site(port, addresses, data_folder / "network")
        demonstrate(site, data_folder, ("--season",) if arguments.season else ())
    except Interrupted:
        print("\nEnded; the records stay in", data_folder, flush=True)
        return 0
    except StopError as error:
        print(error, file=sys.stderr)
        return 1
    except OSError as error:
        print(from_os_error(error, data_folder), file=sys.stderr)
        return 1
    return 0


def demonstrate(site: Site, data_folder: Path, build: tuple[str, ...] = ()) -> None:
    """Run the demo until a signal raises Interrupted; leaves no process behind. build: options of build_demo. Raises
    StopError.
    """
    record = data_folder / "demo-programs.json"
    if not record.exists():
        # Said before the long set-up; where an earlier run was killed, its own web may hold the port until
        # below.
        check_port(site.port, site.bind)
    account = unprivileged()
    check_crossing(ROOT, account)
    check_readable(account)
    data_folder.mkdir(parents=True, exist_ok=True)
    check_crossing(data_folder.parent, account)
    with only_one(data_folder / "demo.lock"):
        make_venv(account)
        hand_over(data_folder, account)
        environment = program_environment(data_folder, account) | site.environment()
        programs = Programs(record, account, environment, ROOT)
        programs.end_leftovers()
        check_port(site.port, site.bind)
        try:
            print("Starting the private PostgreSQL ...", flush=True)
            # One left running by a demo that was killed has no owner's passwords any more.
            postgres.stop(data_folder / "postgres")
            server = postgres.start(data_folder / "postgres")
            prepare(server, programs, build)
            # The web runs as the user that the files belong to: what it must not have must not be there.
            postgres.forget_owners(server)
            fingerprint = certify(site, programs, data_folder / "static")
            serve(server, programs, site, fingerprint, data_folder / "logs")
        finally:
            ignore_signals()
            programs.stop()
            postgres.stop(data_folder / "postgres")


def prepare(server: postgres.Server, programs: Programs, build: tuple[str, ...] = ()) -> None:
    """Tables, static files and the demo plant. A demo plant that was broken off is dropped and told anew."""
    stamp = server.folder / STAMP
    if not stamp.exists() and postgres.is_demo(server, PRIVATE_DATABASE):
        postgres.drop_database(server, PRIVATE_DATABASE)
    postgres.create_database(server, PRIVATE_DATABASE, demo=True)
    manage = [str(PYTHON), str(ROOT / "manage.py")]
    programs.run("migrate", [*manage, "migrate", "--no-input", "-v", "0"], role="migrator")
    if bad := reader.damaged():
        print(f"The code reader is not as it was released ({', '.join(bad)}): the camera may not read.", flush=True)
    programs.run("collectstatic", [*manage, "collectstatic", "--no-input", "-v", "0"])
    if not stamp.exists():
        programs.run("mark_demo", [*manage, "mark_demo"], role="migrator")
        programs.run("build_demo", [*manage, "build_demo", *build])
        stamp.touch()


def certify(site: Site, programs: Programs, static: Path) -> str:
    """Make the certificate that the site needs, with its authority's among the static files; returns the fingerprint of
    that, "" where none is needed.

    The user who runs the web makes it: nobody else can read its key.
    """
    fetched = static / FETCHED
    fetched.unlink(missing_ok=True)
    if site.addresses is None:
        return ""
    make = [str(PYTHON), "-m", "deploy.certificate", str(site.folder), str(fetched), *site.named]
    return programs.run("certificate", make, quiet=True).strip()


def serve(server: postgres.Server, programs: Programs, site: Site, fingerprint: str, logs: Path) -> None:
    """Start web and worker, say where, then keep all three up until a signal comes or something is truly wrong."""
    web = [str(PYTHON), "-m", "gunicorn", "plant.wsgi", "--no-control-socket", *site.gunicorn_words()]
    web += ["--workers=2", "--threads=4", "--worker-class=gthread", "--preload", "--graceful-timeout=5", "--timeout=60"]
    programs.launch("web server", web, logs / "web.log")
    programs.launch("worker", worker_words(programs.environment), logs / "worker.log")
    database = postgres.KeptUp(server)
    wait_for_answer(programs, database, site)
    print("\n" + site.words(fingerprint), flush=True)
    badges = [str(PYTHON), str(ROOT / "manage.py"), "demo_badges"]
    print(programs.run("demo_badges", badges, quiet=True), flush=True)
    print("Ctrl-C ends it.", flush=True)
    while True:
        database.keep_up()
        programs.keep_up()
        time.sleep(LOOK_SECONDS)


def worker_words(environment: Mapping[str, str]) -> list[str]:
    """The job worker: without a broker its beat is enough, with one there is something to take from it."""
    celery = [str(PYTHON), "-m", "celery", "-A", "plant"]
    if not any(environment.get(name) for name in ("CELERY_BROKER_URL", "CELERY_BROKER_URL_FILE")):
        return [*celery, "beat", "--loglevel=WARNING", "--pidfile="]
    return [*celery, "worker", "--beat", "--pool=solo", "--loglevel=WARNING", "--without-gossip", "--without-mingle"]


def wait_for_answer(programs: Programs, database: postgres.KeptUp, site: Site) -> None:
    """Return when the web answers over HTTP; StopError after ANSWER_SECONDS or when it ended for good."""
    until = time.monotonic() + ANSWER_SECONDS
    said = "did not answer"
    while time.monotonic() < until:
        database.keep_up()
        programs.keep_up()
        connection = site.connection()
        try:
            connection.request("GET", "/")
            status = connection.getresponse().status
        except (OSError, http.client.HTTPException):
            time.sleep(0.1)
            continue
        finally:
            connection.close()
        if status < 500:
            return
        # 503: it waits for the database itself.
        said = f"answered with error {status} only"
        if status != HTTPStatus.SERVICE_UNAVAILABLE:
            break
        time.sleep(0.2)
    log = programs.stays["web server"].log
    raise StopError(f"The web server {said} within {ANSWER_SECONDS} s: {log} says why.")


def check_port(port: int, address: str = LOOPBACK) -> None:
    """StopError when the port cannot be had."""
    if not 1 <= port <= 65535:
        raise StopError(f"The port is {port}, but it must be from 1 to 65535: give another with --port.")
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as trial:
        # As gunicorn does it: connections that have just ended do not count as taken.
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((address, port))
            trial.listen()
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                raise StopError(
                    f"Port {port} on {address} is taken by another program: end that one, or choose another "
                    f"port with deploy/demo --port {port + 1 if port < 65535 else 1024}."
                ) from None
            raise StopError(
                f"Port {port} on {address} cannot be used ({error.strerror}): choose another with --port."
            ) from None


def check_readable(account: Account | None) -> None:
    """StopError when the unprivileged user may not read the project's files (a clone made under umask
    077).
    """
    for path in (ROOT / "manage.py", ROOT / "plant" / "settings.py", ROOT / "deploy" / "roles.sql"):
        if account is not None and not can_run("/bin/sh", account, "-c", 'test -r "$0"', str(path)):
            raise StopError(
                f"{path} may not be read by the user {account.name}, as whom the web runs when root starts "
                f"it: run chmod -R a+rX {ROOT} and start again, or run as an ordinary user."
            )


@contextlib.contextmanager
def only_one(lock: Path, what: str = "demo") -> Iterator[None]:
    """Hold the lock for the whole run; StopError when another run holds it."""
    with lock.open("a", encoding="ascii") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise StopError(
                f"A {what} is already at work in {lock.parent}: let it end, or end it with Ctrl-C."
            ) from None
        yield


if __name__ == "__main__":
    sys.exit(main())
