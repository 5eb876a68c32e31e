"""deploy/demo from first start to second, on a small stand-in for the product: it answers, keeps its data,
leaves nothing.
"""

import contextlib
import hashlib
import os
import signal
import socket
import ssl
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from deploy import run_demo
from deploy.accounts import can_run, unprivileged
from deploy.environment import PYTHON, REQUIREMENTS, STAMP

ROOT = Path(__file__).resolve().parents[2]
WANTED = hashlib.sha256(REQUIREMENTS.read_bytes()).hexdigest()

STAND_IN = {
    "plant/settings.py": """
from pathlib import Path
from plant.env import OWNER, database_settings, database_url, env_text, secret_key
DATA_FOLDER = Path(env_text("DATA_FOLDER"))
SECRET_KEY = secret_key(DATA_FOLDER)
ALLOWED_HOSTS = ["127.0.0.1"]
ROLE = env_text("LOTWRIGHT_ROLE", "app")
URL = database_url(DATA_FOLDER, ROLE)
DATABASES = {"default": database_settings(URL, owner=OWNER if ROLE == "migrator" else None)}
INSTALLED_APPS = ["django.contrib.contenttypes", "django.contrib.staticfiles", "trace.apps.TraceConfig"]
ROOT_URLCONF = "plant.urls"
STATIC_URL, STATIC_ROOT = "/static/", DATA_FOLDER / "static"
CELERY_BROKER_URL, CELERY_QUEUE = "", "stand-in"
""",
    "plant/urls.py": """
import os
from django.db import connection
from django.http import HttpResponse
from django.urls import path
import trace
def home(request):
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_user, (SELECT count(*) FROM told)")
        user, told = cursor.fetchone()
    return HttpResponse(f"{user} {told} {os.getuid()} {trace.__file__}")
urlpatterns = [path("", home)]
""",
    "plant/start.py": """
class START:
    begin = wait = staticmethod(lambda: None)
""",
    "trace/__init__.py": "",
    "trace/apps.py": """
from django.apps import AppConfig
class TraceConfig(AppConfig):
    name = "trace"
""",
    "trace/migrations/__init__.py": "",
    "trace/migrations/0001_told.py": """
from django.db import migrations
class Migration(migrations.Migration):
    operations = [
        migrations.RunSQL("CREATE TABLE told (a int)"),
        migrations.RunSQL("GRANT SELECT, INSERT ON told TO lotwright_app"),
    ]
""",
    "trace/management/__init__.py": "",
    "trace/management/commands/__init__.py": "",
    "trace/management/commands/build_demo.py": """
from django.core.management.base import BaseCommand, CommandError
from django.conf import settings
from django.db import connection
class Command(BaseCommand):
    def handle(self, **options):
        with connection.cursor() as cursor:
            cursor.execute("INSERT INTO told VALUES (1)")
        if not (settings.DATA_FOLDER / "tried").exists():
            (settings.DATA_FOLDER / "tried").touch()
            raise CommandError("broken off half-way")
        self.stdout.write("plant told")
""",
    "trace/management/commands/mark_demo.py": """
from django.core.management.base import BaseCommand
from django.db import connection
class Command(BaseCommand):
    def handle(self, **options):
        with connection.cursor() as cursor:
            cursor.execute("SELECT current_user")
            self.stdout.write(f"marked by {cursor.fetchone()[0]}")
""",
    "trace/management/commands/demo_badges.py": """
from django.core.management.base import BaseCommand
class Command(BaseCommand):
    def handle(self, **options):
        self.stdout.write("badge of the shift lead")
""",
}


@pytest.fixture
def stand_in(tree: Path) -> Path:
    for name, text in STAND_IN.items():
        path = tree / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    for name in ("celery.py", "wsgi.py", "character_set.py"):
        (tree / "plant" / name).write_text((ROOT / "plant" / name).read_text())
    (tree / ".venv").symlink_to(ROOT / ".venv")
    return tree


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def programs_of(tree: Path) -> list[str]:
    """Command lines of all processes that mention the tree or work in it."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            words = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode("utf-8", "replace")
            if words and (str(tree) in words or str((folder / "cwd").readlink()).startswith(str(tree))):
                found.append(words)
    return found


@contextlib.contextmanager
def running(tree: Path, port: int, log: Path, *words: str) -> Iterator[subprocess.Popen[bytes]]:
    """deploy/demo until it says how to end it; killed when the test leaves it running."""
    with log.open("wb") as file:
        process = subprocess.Popen(
            [str(tree / "deploy" / "demo"), f"--port={port}", *words],
            stdout=file,
            stderr=file,
            env={"PATH": os.environ["PATH"], "DATABASE_URL": "postgresql://nobody@none.example/a-plants-own"},
        )
    try:
        until = time.monotonic() + 60
        while (
            "Ctrl-C ends it." not in log.read_text() and process.poll() is None and time.monotonic() < until
        ):
            time.sleep(0.05)
        yield process
    finally:
        if process.poll() is None:
            process.terminate()
            process.wait(timeout=60)


def numbers_of(tree: Path, *words: str) -> list[int]:
    """The processes of the tree whose command line has all these words, the oldest first."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            line = (folder / "cmdline").read_bytes().replace(b"\0", b" ").decode("utf-8", "replace")
            if all(word in line for word in words) and str((folder / "cwd").readlink()).startswith(str(tree)):
                found.append(int(folder.name))
    return sorted(found)


def answered(port: int) -> bool:
    with contextlib.suppress(OSError), urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=20) as answer:
        return bool(answer.read().startswith(b"lotwright_app 1 "))
    return False


def each_killed_comes_back(tree: Path, port: int) -> None:
    """SIGKILL for each program of the demo in turn; nobody starts any of them by hand."""
    postmaster = tree / "var" / "postgres" / "data" / "postmaster.pid"
    kinds: dict[str, Callable[[], list[int]]] = {
        "job worker": lambda: numbers_of(tree, "celery", "beat"),
        "web worker": lambda: numbers_of(tree, "gunicorn"),
        "web server": lambda: numbers_of(tree, "gunicorn"),
        "postmaster": lambda: [int(postmaster.read_text().split("\n", 1)[0])] if postmaster.exists() else [],
    }
    for kind, numbers in kinds.items():
        before = numbers()
        gone = {before[-1]} if kind == "web worker" else set(before)
        os.kill(max(gone) if kind == "web worker" else min(gone), signal.SIGKILL)
        until = time.monotonic() + 40
        back = False
        while not back and time.monotonic() < until:
            time.sleep(0.05)
            now = numbers()
            back = len(now) == len(before) and not gone & set(now) and answered(port)
        assert back, kind


def served_over_tls(tree: Path, port: int, log: Path) -> None:
    """With --network it answers by its certificate's word, says what to do, and a plain connection gets nothing."""
    authority = tree / "var" / "static" / "demo-authority.crt"
    assert not authority.exists()
    with running(tree, port, log, "--network") as process:
        said = log.read_text()
        assert process.poll() is None, said
        assert f"https://127.0.0.1:{port}/" in said
        assert "Caution: for trying out" in said
        context = ssl.create_default_context(cafile=authority)
        with urllib.request.urlopen(f"https://127.0.0.1:{port}/", context=context, timeout=20) as answer:
            assert answer.read().startswith(b"lotwright_app 1 ")
        assert not answered(port)
        account = unprivileged()
        key = (tree / "var" / "network" / "server.key").stat()
        assert (key.st_uid, key.st_mode & 0o777) == (account.uid if account else os.geteuid(), 0o600)
        environment = settings_of(min(numbers_of(tree, "gunicorn")))
        assert (environment["HTTPS"], environment["HSTS_DAYS"]) == ("yes", "0")
    assert programs_of(tree) == []


def settings_of(number: int) -> dict[str, str]:
    """The environment of a process, proc(5)."""
    parts = Path(f"/proc/{number}/environ").read_text().rstrip("\0").split("\0")
    return dict(part.split("=", 1) for part in parts)


# Collected only where the demo's own user can run this .venv: never counted as a skip, and said so by deploy/test.
if (
    Path("/proc/self/cmdline").exists()
    and can_run(PYTHON, unprivileged(), "-c", "import ssl")
    and STAMP.exists()
    and STAMP.read_text().strip() == WANTED
):

    def test_first_and_second_start(stand_in: Path, open_folder: Path) -> None:
        port, log = free_port(), open_folder / "log"
        with running(stand_in, port, log) as broken:
            assert broken.wait(timeout=30) == 1
        assert "stopped at build_demo (CommandError: broken off half-way): put this right" in log.read_text()
        assert "Traceback" not in log.read_text()
        assert programs_of(stand_in) == []

        for number in (signal.SIGINT, signal.SIGTERM):
            with running(stand_in, port, log) as process:
                said = log.read_text()
                assert process.poll() is None, said
                assert f"http://127.0.0.1:{port}/" in said
                assert "badge of the shift lead" in said
                # A half-told plant was dropped, a whole one is kept: one row each time.
                assert ("plant told" in said) is (number == signal.SIGINT)
                assert ("marked by lotwright_owner" in said) is (number == signal.SIGINT)
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as answer:
                    user, told, uid, trace = answer.read().decode().split(" ", 3)
                account = unprivileged()
                assert (user, told) == ("lotwright_app", "1")
                assert int(uid) == (account.uid if account else os.geteuid())
                assert trace == str(stand_in / "trace" / "__init__.py")
                assert len(programs_of(stand_in)) >= 5
                assert not (stand_in / "var" / "postgres" / "owner.json").exists()
                if number == signal.SIGTERM:
                    each_killed_comes_back(stand_in, port)
                process.send_signal(number)
                assert process.wait(timeout=40) == 0
            assert "Traceback" not in log.read_text()
            assert programs_of(stand_in) == []
            with socket.socket() as trial:
                assert trial.connect_ex(("127.0.0.1", port)) != 0

        served_over_tls(stand_in, port, log)


def test_the_season_is_built_in_a_folder_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    seen: list[tuple[Path, tuple[str, ...]]] = []
    monkeypatch.setattr(run_demo, "demonstrate", lambda _site, folder, build: seen.append((folder, build)))
    monkeypatch.setattr(run_demo, "raise_on_signals", lambda: None)
    monkeypatch.setenv("DATA_FOLDER", str(tmp_path))
    for words in ([], ["--season"]):
        monkeypatch.setattr("sys.argv", ["deploy/demo", *words])
        assert run_demo.main() == 0
    assert seen == [(tmp_path, ()), (tmp_path / "season", ("--season",))]
