"""Whatever stands around a form, in cookies, headers and addresses, the answer is a page: never a failure."""

from typing import Any
from urllib.parse import quote

import pytest
from django.conf import settings
from django.test import Client

from plant.character_set import only_utf8
from tests.attack.test_hostile_forms import HOSTILE, looks_right, signed_in
from tests.scan.cast import OPERATOR, Plant
from tests.scan.conftest import Opens

COOKIES = (
    settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME, settings.DEVICE_COOKIE_NAME, settings.LANGUAGE_COOKIE_NAME,
)  # fmt: skip
# Names Python knows as codecs, some of which are no text at all, and some that nobody knows.
CHARSETS = ("hex", "base64", "rot13", "idna", "punycode", "utf-7", "utf-16", "cp037", "unicode_escape", "zip", "nobody")
HEADERS: dict[str, tuple[str, ...]] = {
    "Accept": ("", "application/json", "*/*;q=NaN", "a" * 4000),
    "Accept-Language": ("", "x" * 4000, "de-DE;q=9e999", "../../etc", "\xff"),
    "Content-Length": ("-1", "1e9", "", "x"),
    "Cookie": ("=", ";;;", "a=b=c;;=\x00", 'sessionid="\\000"', "\xff=\xff"),
    "Host": ("", "x:y:z", "[::1", "a b", "localhost:99999999"),
    "Origin": ("null", "http://[", "\x00"),
    "Referer": ("http://[", "\x00", "javascript:alert(1)"),
    "X-Forwarded-For": ("x", "::1, \x00", "9" * 4000),
    "X-Forwarded-Proto": ("gopher", "\x00"),
    "If-Modified-Since": ("\x00", "Mon, 99 Foo 9999 99:99:99 GMT"),
    "If-None-Match": ("\x00", '"' * 400),
    "Range": ("bytes=-1", "bytes=9-1,\x00"),
}  # fmt: skip

ADDRESSES = (
    "/", "/S/", "/scan/", "/hull/", "/lot/", "/unit/", "/setup/", "/api/genealogy/back/", "/api/genealogy/",
    "/scan/weigh/?code=", "/scan/weigh/?say=", "/sign-in/?next=", "/search/?q=", "/compare/?left=", "/labels/?codes=",
)  # fmt: skip


@pytest.fixture
def strict(at: Opens, plant: Plant) -> Client:
    """Signed on, and looking at answers as a browser would: nothing raised reaches the test."""
    client = signed_in(plant, OPERATOR)
    client.raise_request_exception = False
    return client


@pytest.mark.parametrize("name", COOKIES)
def test_every_cookie(strict: Client, name: str) -> None:
    for what, value in HOSTILE.items():
        for text in (value, '"' + "".join(f"\\{ord(c):03o}" for c in value if ord(c) < 256) + '"'):
            # A server hands the bytes of a head over as Latin-1 (PEP 3333).
            heads: dict[str, Any] = {"HTTP_COOKIE": f"{name}={text}".encode().decode("latin-1")}
            for address in ("/", "/scan/weigh/", "/sign-in/"):
                looks_right(strict.get(address, **heads), f"{name} {what} {address}")
                looks_right(strict.post(address, {"code": "4417"}, **heads), f"{name} {what} {address}")


def as_handed_over(kind: str) -> str:
    """What Django is given as the kind of content (the test client has no server's interface before it)."""
    seen: list[str] = []

    def application(environ: dict[str, Any], _: object) -> list[bytes]:
        seen.append(environ["CONTENT_TYPE"])
        return []

    only_utf8(application)({"CONTENT_TYPE": kind}, lambda *_: lambda _: None)
    return seen[0]


@pytest.mark.parametrize("charset", CHARSETS)
def test_every_charset(strict: Client, charset: str) -> None:
    parts = b'--x\r\nContent-Disposition: form-data; name="code"\r\n\r\n4417\r\n--x--\r\n'
    forms = {
        "application/x-www-form-urlencoded": b"code=4417", "multipart/form-data; boundary=x": parts,
        "text/html": b"4417", "application/json": b"{}", "": b"",
    }  # fmt: skip
    for address in ("/scan/weigh/", "/sign-in/", "/sign-in/desk/", "/api/rules/"):
        for kind, body in forms.items():
            for head in (f"{kind}; charset={charset}", f'{kind}; charset="{charset}"', f"{kind}; charset*=''{charset}"):
                for method in ("POST", "GET"):
                    sent = strict.generic(
                        method, address + "?code=%ff4417", body, as_handed_over(head), CONTENT_TYPE=as_handed_over(head)
                    )
                    assert looks_right(sent, f"{method} {address} {head}")
                    assert sent.status_code == 415, f"{method} {address} {head}"
    for kind in forms:
        assert as_handed_over(f"{kind}; charset=UTF-8") == f"{kind}; charset=UTF-8"
    part = parts.replace(b"\r\n\r\n4417", f"\r\nContent-Type: text/plain; charset={charset}\r\n\r\n4417".encode())
    looks_right(strict.generic("POST", "/scan/weigh/", part, "multipart/form-data; boundary=x"), f"part {charset}")


@pytest.mark.parametrize("name", HEADERS)
def test_every_header(strict: Client, name: str) -> None:
    key = name.upper().replace("-", "_")
    for value in HEADERS[name]:
        for address in ("/", "/scan/weigh/", "/search/"):
            heads: dict[str, Any] = {key if name.startswith("Content-") else f"HTTP_{key}": value}
            looks_right(strict.get(address, **heads), f"{name} {value[:40]!r} {address}")
            looks_right(strict.post(address, {"code": "4417"}, **heads), f"{name} {value[:40]!r} {address}")


def test_every_address(strict: Client) -> None:
    for what, value in HOSTILE.items():
        for before in ADDRESSES:
            looks_right(strict.get(before + quote(value)), f"{before} {what}")
    for odd in ("/%ff%fe", "/S/%00", "/scan/weigh/?%ff=%fe", "/scan/weigh/?next=//x", "//", "/S/" + "%2e%2e/" * 50):
        looks_right(strict.get(odd), odd)


def test_a_badge_after_long_texts_leads_to_an_address_that_servers_take(plant: Plant, at: Opens) -> None:
    screen = at("hold")
    long = {"do": "send", "code": plant["P-03"], "thing": "\U0001f6f6" * 1250, "act": "lay", "reason_words": "7" * 5000}
    to = screen.client.post("/scan/hold/", long).headers.get("Location", "")
    assert len(to) < 4000
    assert to.startswith("/sign-in/?next=%2Fscan%2Fhold%2F")
    assert len(Client().get("/scan/hold/?thing=" + "7" * 3900).headers["Location"]) < 4000
