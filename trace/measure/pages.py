"""Times the answers of the weighing page, over HTTP, at 25 scans a second: what a person at a station waits."""

import http.client
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from http.cookies import SimpleCookie
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.core.management.base import CommandError
from django.db import connections

from plant.env import postgres_url
from plant.models import Account
from trace.codes import uuid7
from trace.demo.floor import Shift
from trace.demo.plant import PEOPLE
from trace.models import Label
from trace.scan.view import WANTS

A_SECOND = 25
TARGET_MS = 150
TABLETS = 6
# Who weighs; each at as many tablets as it takes.
WEIGHERS = [(key, pin) for key, _, roles, tasks, pin in PEOPLE if "operator" in roles and "weighing" in tasks]


def answers(count: int) -> Iterator[str]:
    """Lines: p50 and p99 of `count` weighings posted at 25 a second, in a scratch database that has the plant.

    Each is due at its own moment, whether or not the ones before are answered, and its time counts from then.
    """
    shift = Shift()
    boxes = shift.stock("VERRIN", "LL-35 red", "V-9900", ("50000",) * TABLETS)
    tubs = [tub for start in range(0, count, 100) for tub in shift.carriers("tub", min(100, count - start))]
    for key, pin in WEIGHERS:
        Account.objects.create(person=key, password="", pin=make_password(pin))
    with _web() as port, ThreadPoolExecutor(TABLETS) as pool:
        tablets = [_Tablet(port, *WEIGHERS[n % len(WEIGHERS)], box) for n, box in enumerate(boxes)]
        own, began = time.process_time(), time.perf_counter()
        due = [(began + n / A_SECOND, tub) for n, tub in enumerate(tubs)]
        work = [pool.submit(tablet.weigh, due[n::TABLETS]) for n, tablet in enumerate(tablets)]
        times = sorted(ms for done in work for ms in done.result())
        own, took = time.process_time() - own, time.perf_counter() - began
    p50, p99 = times[len(times) // 2], times[int(len(times) * 0.99)]
    met = "met" if p99 <= TARGET_MS else "NOT met"
    yield (
        f"weighing page at {A_SECOND} scans/s from {TABLETS} tablets: p50 {p50:.0f} ms, p99 {p99:.0f} ms;"
        f" target {TARGET_MS} ms: {met}"
    )
    yield f"(the tablets are this program: it took {own / took:.0%} of one processor of {os.cpu_count()} meanwhile)"


@contextmanager
def _web() -> Iterator[int]:
    """The site served by gunicorn as deploy/demo serves it, on a free port of this machine."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    now = connections["default"].settings_dict
    address = postgres_url(now["USER"], now["PASSWORD"], now["NAME"], now["HOST"])
    program = [sys.executable, "-m", "gunicorn", "plant.wsgi", "--no-control-socket", f"--bind=127.0.0.1:{port}"]
    web = subprocess.Popen(
        [*program, "--workers=2", "--threads=4", "--worker-class=gthread", "--preload", "--log-level=warning"],
        env={**os.environ, "DATABASE_URL": address}, cwd=settings.BASE_DIR,
    )  # fmt: skip
    try:
        for _ in range(200):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield port
    finally:
        web.terminate()
        web.wait(timeout=20)


class _Browser:
    """Keeps cookies, sends the form token, follows nothing."""

    def __init__(self, port: int) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        self.cookies: SimpleCookie = SimpleCookie()
        self.token = ""
        self.get("/sign-in/")

    def get(self, path: str) -> str:
        return self._ask("GET", path)

    def post(self, path: str, values: dict[str, str]) -> str:
        """As the script of a station page posts: it asks for what changes."""
        body = urlencode({**values, "csrfmiddlewaretoken": self.token})
        return self._ask("POST", path, body, {WANTS: "main"})

    def _ask(self, method: str, path: str, body: str | None = None, more: Mapping[str, str] | None = None) -> str:
        headers = {"Cookie": "; ".join(f"{k}={m.value}" for k, m in self.cookies.items()), **(more or {})}
        if body is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            self.connection.request(method, path, body, headers)
            answer = self.connection.getresponse()
        except ConnectionError:  # the server closes what stood idle; a browser sends it again on a new line
            self.connection.close()
            self.connection.request(method, path, body, headers)
            answer = self.connection.getresponse()
        text = answer.read().decode()
        for line in answer.headers.get_all("Set-Cookie") or []:
            self.cookies.load(line)
        found = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', text)
        self.token = found[1] if found else self.token
        if answer.status >= 400:
            raise CommandError(f"{path} answered {answer.status}.")
        return text


class _Tablet(_Browser):
    """A person signed on at the weighing station, with a box to draw from."""

    def __init__(self, port: int, who: str, pin: str, box: str) -> None:
        super().__init__(port)
        self.box = box
        badge = Label.objects.get(resource__kind="person", resource__key=who).code
        self.post("/sign-in/", {"badge": badge, "pin": pin, "next": "/scan/weigh/"})
        self.get("/scan/weigh/")

    def weigh(self, scans: list[tuple[float, str]]) -> list[float]:
        """Posts a weighing into each tub when it is due, by perf_counter(): the ms from then to each answer."""
        times = []
        for due, tub in scans:
            time.sleep(max(0.0, due - time.perf_counter()))
            held = {"order": "WO-1041", "scale": "W-3", "box": self.box, "tub": tub, "layer": "skin", "gross": "12.20"}
            page = self.post("/scan/weigh/", {**held, "scan_id": str(uuid7()), "do": "send"})
            times.append((time.perf_counter() - due) * 1e3)
            if "12.20 kg of LL-35 red" not in page:
                raise CommandError("A weighing was not recorded; nothing was measured.")
        return times
