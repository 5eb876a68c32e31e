"""Times the answers of the weighing page, over HTTP, at ten scans a second: what a person at the station waits."""

import http.client
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
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

A_SECOND = 10
TARGET_MS = 150
WHO = "P-03"
PIN = next(pin for key, _, _, _, pin in PEOPLE if key == WHO)


def answers(count: int) -> Iterator[str]:
    """Lines: p50 and p99 of `count` weighings posted at ten a second, in a scratch database that has the plant."""
    shift = Shift()
    box = shift.stock("VERRIN", "LL-35 red", "V-9900", ("50000",))[0]
    tubs = [tub for start in range(0, count, 100) for tub in shift.carriers("tub", min(100, count - start))]
    Account.objects.create(person=WHO, password="", pin=make_password(PIN))
    badge = Label.objects.get(resource__kind="person", resource__key=WHO).code
    with _web() as port:
        browser = _Browser(port)
        browser.post("/sign-in/", {"badge": badge, "pin": PIN, "next": "/scan/weigh/"})
        browser.get("/scan/weigh/")
        times = []
        began = time.perf_counter()
        for n, tub in enumerate(tubs):
            time.sleep(max(0.0, began + n / A_SECOND - time.perf_counter()))
            held = {"order": "WO-1041", "scale": "W-3", "box": box, "tub": tub, "layer": "skin", "gross": "12.20"}
            sent = time.perf_counter()
            page = browser.post("/scan/weigh/", {**held, "scan_id": str(uuid7()), "do": "send"})
            times.append((time.perf_counter() - sent) * 1e3)
            if "12.20 kg of LL-35 red" not in page:
                raise CommandError("A weighing was not recorded; nothing was measured.")
    times.sort()
    p50, p99 = times[len(times) // 2], times[int(len(times) * 0.99)]
    met = "met" if p99 <= TARGET_MS else "NOT met"
    yield f"weighing page at {A_SECOND} scans/s: p50 {p50:.0f} ms, p99 {p99:.0f} ms; target {TARGET_MS} ms: {met}"


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
        body = urlencode({**values, "csrfmiddlewaretoken": self.token})
        return self._ask("POST", path, body)

    def _ask(self, method: str, path: str, body: str | None = None) -> str:
        headers = {"Cookie": "; ".join(f"{k}={m.value}" for k, m in self.cookies.items())}
        if body is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
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
