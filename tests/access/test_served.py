"""The doors over a real connection, and the settings a plant with TLS runs on."""

import http.cookiejar
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, Request, build_opener

import pytest

from tests.access import cast
from tests.access.cast import Member
from tests.databases import Database

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def lead(fresh_database: Database) -> Member:
    return cast.enter("LUND", "Sunniva Lund", roles=["lead"])


def test_signing_on_and_off_as_a_browser_does(lead: Member, floor_server: str) -> None:
    browser = build_opener(HTTPCookieProcessor(http.cookiejar.CookieJar()))
    page = send(browser, f"{floor_server}/scan/load/")
    assert page[1].endswith("/sign-in/?next=%2Fscan%2Fload%2F")
    form = {"badge": lead.badge, "pin": lead.pin, "next": "/", "csrfmiddlewaretoken": token(page[2])}
    page = send(browser, page[1], form, origin=floor_server)
    assert page[:2] == (200, f"{floor_server}/")
    assert "Sunniva Lund" in page[2]
    page = send(
        browser, f"{floor_server}/sign-out/", {"csrfmiddlewaretoken": token(page[2])}, origin=floor_server
    )
    assert page[:2] == (200, f"{floor_server}/sign-in/")
    assert send(browser, f"{floor_server}/")[1].endswith("/sign-in/")


def test_a_form_posted_by_another_site_is_refused(lead: Member, floor_server: str) -> None:
    browser = build_opener(HTTPCookieProcessor(http.cookiejar.CookieJar()))
    page = send(browser, f"{floor_server}/sign-in/")
    form = {"badge": lead.badge, "pin": lead.pin, "csrfmiddlewaretoken": token(page[2])}
    assert send(browser, page[1], form, origin="https://elsewhere.example")[0] == 403


def test_settings_for_tls_pass_the_framework_s_own_checks() -> None:
    """`check --deploy` at its strictest, and the cookies a browser takes from this host over TLS only."""
    environment = os.environ | {
        "HTTPS": "yes",
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "PYTHONPATH": str(ROOT),
    }
    check = [sys.executable, str(ROOT / "manage.py"), "check", "--deploy", "--fail-level", "WARNING"]
    done = subprocess.run(check, env=environment, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    names = [
        "SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME", "DEVICE_COOKIE_NAME", "SESSION_COOKIE_SECURE",
        "CSRF_COOKIE_SECURE", "SECURE_HSTS_SECONDS", "SECURE_HSTS_INCLUDE_SUBDOMAINS", "SECURE_SSL_REDIRECT",
        "DEBUG",
    ]  # fmt: skip
    ask = f"import json, tests.settings as s; print(json.dumps([getattr(s, n) for n in {names}]))"
    said = subprocess.run(
        [sys.executable, "-c", ask], env=environment, capture_output=True, text=True, check=True
    )
    assert dict(zip(names, json.loads(said.stdout), strict=True)) == {
        "SESSION_COOKIE_NAME": "__Host-session",
        "CSRF_COOKIE_NAME": "__Host-form",
        "DEVICE_COOKIE_NAME": "__Host-device",
        "SESSION_COOKIE_SECURE": True,
        "CSRF_COOKIE_SECURE": True,
        "SECURE_HSTS_SECONDS": 63_072_000,
        "SECURE_HSTS_INCLUDE_SUBDOMAINS": True,
        "SECURE_SSL_REDIRECT": True,
        "DEBUG": False,
    }


def send(
    browser: OpenerDirector, address: str, form: dict[str, str] | None = None, origin: str = ""
) -> tuple[int, str, str]:
    """(status, address in the end, page) of a GET, or of a POST when there is a form."""
    body = urlencode(form).encode() if form is not None else None
    request = Request(address, body, {"Origin": origin} if origin else {})
    try:
        with browser.open(request, timeout=120) as answer:
            return answer.status, answer.url, answer.read().decode()
    except HTTPError as error:
        with error:
            return error.code, error.url or "", error.read().decode()


def token(page: str) -> str:
    found = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
    assert found
    return found[1]
