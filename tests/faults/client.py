"""A tablet at the weighing station: sends each scan until it is answered, under one number, and some of them again."""

from __future__ import annotations

import http.client
import random
import re
import time
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from urllib.parse import urlencode

from trace.codes import uuid7

TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')
VERDICT = re.compile(r'<section class="verdict.*?</section>', re.DOTALL)
OUTCOME = re.compile(r'data-outcome="(\w+)"')
# What tells a replay from a first answer (the word, and when the first was recorded), and the tags.
SIGNS = re.compile(
    r'<svg.*?</svg>|<span class="verdict-word">.*?</span>|<p class="verdict-small">.*?</p>|<[^>]*>', re.DOTALL
)
GIVE_UP_SECONDS = 90


@dataclass
class Tablet:
    """One client. `answers` is what each scan was answered first, `wrong` everything that must not be seen,
    `longest` the longest time in seconds from sending a scan to its answer.
    """

    port: int
    badge: str
    pin: str
    held: dict[str, str]
    tubs: list[str]
    seed: int
    answers: dict[str, tuple[str, str]] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    sent: int = 0
    away: int = 0
    longest: float = 0.0
    tub_of: dict[str, str] = field(default_factory=dict)
    _cookies: SimpleCookie = field(default_factory=SimpleCookie)
    _token: str = ""
    _connection: http.client.HTTPConnection | None = None

    def work(self) -> None:
        """Sign in, then one scan after the other until there are no tubs left."""
        luck = random.Random(self.seed)
        self._until_answered("GET", "/sign-in/", None)
        self._until_answered("POST", "/sign-in/", {"badge": self.badge, "pin": self.pin, "next": "/scan/weigh/"})
        self._until_answered("GET", "/scan/weigh/", None)
        for tub in self.tubs:
            if self.wrong:
                break
            scan = str(uuid7())
            self.scan(scan, tub)
            if luck.random() < 0.2:
                self.scan(scan, tub)  # a late duplicate
            if luck.random() < 0.1:
                self.scan(str(uuid7()), tub)  # refused: the tub is full
        self.hang_up()

    def scan(self, scan: str, tub: str) -> None:
        """Send one weighing into this tub until it is answered."""
        self.tub_of[scan] = tub
        values = {**self.held, "tub": tub, "scan_id": scan, "do": "send"}
        began = time.monotonic()
        page = self._until_answered("POST", "/scan/weigh/", values)
        self.longest = max(self.longest, time.monotonic() - began)
        found = VERDICT.search(page)
        if found is None:
            self.wrong.append(f"no verdict for {scan}: {SIGNS.sub(' ', page)[-500:]}")
            return
        said = (OUTCOME.search(found[0]) or [""])[1], " ".join(SIGNS.sub(" ", found[0]).split())
        if self.answers.setdefault(scan, said) != said:
            self.wrong.append(f"{scan} was answered {self.answers[scan]}, then {said}")

    def _until_answered(self, method: str, path: str, values: dict[str, str] | None) -> str:
        until = time.monotonic() + GIVE_UP_SECONDS
        while time.monotonic() < until:
            self.sent += 1
            try:
                status, retry, text = self._ask(method, path, values)
            except (OSError, http.client.HTTPException):
                self.hang_up()  # the web was killed, or is not up yet
                self.away += 1
                time.sleep(0.1)
                continue
            if status < 400:
                return text
            self.away += 1
            if self.wrong:
                return text
            if status != 503 or not retry or "Traceback" in text or "Nothing was lost" not in text:
                words = " ".join(SIGNS.sub(" ", text).split())
                self.wrong.append(f"{method} {path}: {status}, Retry-After {retry!r}: {words[-300:]}")
            time.sleep(0.1)
        raise AssertionError(f"{path} was not answered within {GIVE_UP_SECONDS} s")

    def answered(self) -> bool:
        """Whether a page that needs the database is answered just now."""
        try:
            return self._ask("GET", "/sign-in/", None)[0] == 200
        except (OSError, http.client.HTTPException):
            return False
        finally:
            self.hang_up()

    def hang_up(self) -> None:
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def _ask(self, method: str, path: str, values: dict[str, str] | None) -> tuple[int, str, str]:
        if self._connection is None:
            self._connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        headers = {"Cookie": "; ".join(f"{key}={morsel.value}" for key, morsel in self._cookies.items())}
        body = None
        if values is not None:
            body = urlencode({**values, "csrfmiddlewaretoken": self._token})
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        self._connection.request(method, path, body, headers)
        answer = self._connection.getresponse()
        text = answer.read().decode()
        for line in answer.headers.get_all("Set-Cookie") or []:
            self._cookies.load(line)
        # The page about an error may be drawn for a sign-in that was not stored: its token fits no cookie.
        found = TOKEN.search(text) if answer.status < 400 else None
        self._token = found[1] if found else self._token
        return answer.status, answer.headers.get("Retry-After", ""), text
