"""The headers of every page: what it may load, what it may use, and that no copy is kept."""

import re
from http import HTTPStatus

import pytest
from django.conf import settings
from django.test import Client

from tests.access import cast
from tests.access.addresses import addresses
from tests.access.cast import Member

# The policy as decided for this product; directives as in the W3C's Content Security Policy level 3.
POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self' blob:",
    "media-src": "'self' blob:",
    "connect-src": "'self'",
    "worker-src": "'self'",
    "manifest-src": "'self'",
    "font-src": "'self'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
    "base-uri": "'none'",
    "object-src": "'none'",
}
# What other systems are answered with: JSON, and the description of it.
DOCUMENTS = {"application/json", "application/vnd.oai.openapi", "application/vnd.oai.openapi; charset=utf-8"}


def test_every_page_of_everybody_carries_the_policy(people: dict[str, Member]) -> None:
    for actor in ("anonymous", "operator", "quality", "administrator"):
        client = Client(raise_request_exception=False)
        if actor != "anonymous":
            cast.sign_on(client, people[actor])
        for path in [*(a.path for a in addresses() if a.name != "sign_out"), "/nothing/", "/S/nothing"]:
            answer = client.get(path)
            policy = dict(part.strip().split(" ", 1) for part in answer["Content-Security-Policy"].split(";"))
            assert policy == POLICY, path
            assert answer["Permissions-Policy"].startswith("camera=(self), "), path
            assert re.fullmatch(r"camera=\(self\)(, [a-z-]+=\(\))+", answer["Permissions-Policy"]), path
            assert "microphone=()" in answer["Permissions-Policy"]
            assert "geolocation=()" in answer["Permissions-Policy"]
            assert answer["Cache-Control"] == "no-store", path
            assert answer["X-Content-Type-Options"] == "nosniff", path
            assert answer["Cross-Origin-Opener-Policy"] == "same-origin", path
            assert answer["Referrer-Policy"] in {"same-origin", "no-referrer"}, path
            assert answer["X-Frame-Options"] == "DENY", path
            if answer.content:
                kinds = DOCUMENTS if path.startswith("/api/") else {"text/html; charset=utf-8"}
                assert answer["Content-Type"] in kinds, path


def test_no_page_has_inline_script_or_style(people: dict[str, Member]) -> None:
    client = Client()
    cast.sign_on(client, people["administrator"])
    for address in addresses():
        page = client.get(address.path).content.decode()
        assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=|javascript:", page), (
            address.path
        )


def test_cookies_are_closed_to_scripts_and_to_other_sites(people: dict[str, Member]) -> None:
    client = Client()
    client.get("/sign-in/")
    cast.sign_on(client, people["operator"])
    assert set(client.cookies) == {"session", "form", "device"}
    for cookie in client.cookies.values():
        assert cookie["httponly"]
        assert cookie["samesite"] == "Lax"
        assert cookie["path"] == "/"
        assert not cookie["domain"]


@pytest.mark.django_db
def test_static_files_carry_the_policy_too() -> None:
    answer = Client().get("/static/trace/sheet.css")
    assert answer.status_code == HTTPStatus.OK
    assert answer["Content-Security-Policy"].startswith("default-src 'none'")
    assert answer["X-Content-Type-Options"] == "nosniff"
    answer.close()


def test_the_product_is_delivered_without_debug() -> None:
    assert settings.DEBUG is False
    assert "django.contrib.admin" not in settings.INSTALLED_APPS


@pytest.mark.parametrize(
    "path", ["/.git/config", "/static/../plant/settings.py", "/admin/", "/__debug__/", "/var/"]
)
def test_nothing_else_is_served(db: None, path: str) -> None:
    assert Client().get(path).status_code == HTTPStatus.NOT_FOUND


def test_each_page_read_by_a_person_leaves_one_line_in_the_log(
    people: dict[str, Member], caplog: pytest.LogCaptureFixture
) -> None:
    client = Client()
    cast.sign_on(client, people["auditor"])
    for address in addresses():
        caplog.clear()
        status = client.get(address.path).status_code
        lines = [r.getMessage() for r in caplog.records if r.name in {"plant.reads", "plant.rights"}]
        assert len(lines) == 1, address.path
        assert lines[0].startswith("refused" if status in {403, 405} else "read")
        assert "person='BROOK'" in lines[0]


def test_a_line_end_in_an_address_makes_no_second_line_in_the_log(
    people: dict[str, Member], caplog: pytest.LogCaptureFixture
) -> None:
    client = Client()
    cast.sign_on(client, people["operator"])
    client.get("/hull/X%0Aread%20person=admin/")
    client.post("/sign-in/", {"badge": "X\nsigned in person='ASHDOWN'", "pin": "1"})
    assert not [r for r in caplog.records if "\n" in r.getMessage()]


def test_pin_and_password_never_reach_the_log(
    people: dict[str, Member], caplog: pytest.LogCaptureFixture
) -> None:
    client = Client()
    client.post("/sign-in/", {"badge": "402917", "pin": "402917"})
    cast.sign_on(client, people["operator"])
    client.post("/sign-in/desk/", {"name": "ASHDOWN", "password": "a wrong password"})
    cast.sign_on_at_desk(client, people["quality"])
    said = "\n".join(r.getMessage() for r in caplog.records)
    assert "signed in person='ASHDOWN'" in said
    for secret in (cast.PIN, cast.PASSWORD, "a wrong password"):
        assert secret not in said
