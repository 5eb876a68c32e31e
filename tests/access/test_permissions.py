"""Who may open what: every address, method and actor, asked from outside, as permissions.txt says."""

import os
from http import HTTPStatus
from types import SimpleNamespace

import pytest
from django.db import connection, transaction
from django.http.response import HttpResponseBase
from django.test import Client
from django.utils import timezone

from plant import sign_on
from plant.access import ANONYMOUS, RIGHTS, decide
from tests.access import cast, table
from tests.access.addresses import Address, addresses, patterns
from tests.access.cast import Member
from tests.access.table import ACTORS, METHODS, Line

LONG = bool(os.environ.get("LONG_TESTS"))
OTHERS = ("PUT", "PATCH", "DELETE", "OPTIONS", "TRACE")
REFUSED = {"302*", "401", "403", "405"}
WRITES = "SELECT sum(n_tup_ins + n_tup_upd + n_tup_del) FROM pg_stat_xact_user_tables"


@pytest.fixture(autouse=True)
def clock_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    """For who is signed on no time passes while the table is asked, however slow the machine is."""
    at = timezone.now()
    monkeypatch.setattr(sign_on, "timezone", SimpleNamespace(**{**vars(timezone), "now": lambda: at}))


def test_every_address_has_a_row_in_the_table_of_rights() -> None:
    without = sorted(name or "(no name)" for name, _ in patterns() if name not in RIGHTS)
    assert not without, f"Add a row to RIGHTS in plant/access.py for: {', '.join(without)}"


def test_every_row_of_the_table_of_rights_has_an_address() -> None:
    assert sorted(set(RIGHTS) - {name for name, _ in patterns()}) == []


def test_permissions_are_those_of_the_file(people: dict[str, Member]) -> None:
    """100 % of addresses x methods x actors; and no GET writes a row, whoever asks."""
    found = [Line(address.path, method, tuple(cells)) for address, method, cells in _asked(people)]
    if os.environ.get("WRITE_PERMISSIONS"):
        table.write(found)
    assert found == table.read(), "See the head of permissions.txt for how to write it anew."
    assert not [line for line in found for status in line.statuses if status.startswith("5")]


def test_the_file_says_what_the_table_of_rights_says() -> None:
    """The same table from inside: refused in the file where, and only where, `decide` does not say yes."""
    by_path = {address.path: address for address in addresses()}
    cells = 0
    for line in table.read():
        address = by_path[line.path]
        for actor, status in zip(ACTORS, line.statuses, strict=True):
            verdict = decide({actor}, address.name, line.method, dict(address.parts))
            want = {
                # The sign-on pages are open to all and answer an empty form with 401 themselves.
                "yes": status not in REFUSED or (address.name.startswith("sign_in") and status == "401"),
                "no": status == (_refused(line) if actor == ANONYMOUS else "403"),
                "no such method": status == "405",
            }
            assert want.get(verdict, False), (line.path, line.method, actor, status, verdict)
            cells += 1
    assert cells == len(by_path) * len(METHODS) * len(ACTORS)


def test_no_other_method_is_taken_from_anybody(people: dict[str, Member]) -> None:
    """`decide` says so of all of them. Asked from outside, each actor sends one other method to each address, so that
    each address gets all of them; with LONG_TESTS (deploy/test --long) everybody sends all.
    """
    client = Client(raise_request_exception=False)
    for nth, actor in enumerate(ACTORS):
        cookies = _cookies(people, actor)
        for at, address in enumerate(addresses()):
            for method in OTHERS:
                verdict = decide({actor}, address.name, method, dict(address.parts))
                assert verdict == "no such method", (actor, method, address.path)
            for method in OTHERS if LONG else [OTHERS[(nth + at) % len(OTHERS)]]:
                answer = _with(cookies, client).generic(method, address.path)
                assert answer.status_code == HTTPStatus.METHOD_NOT_ALLOWED, (actor, method, address.path)
                assert answer["Allow"]


def test_head_is_answered_like_get(people: dict[str, Member]) -> None:
    client = Client(raise_request_exception=False)
    for actor in ("anonymous", "operator"):
        cookies = _cookies(people, actor)
        for address in addresses():
            got, head = _with(cookies, client).get(address.path), _with(cookies, client).head(address.path)
            assert (head.status_code, head.content) == (got.status_code, b""), address.path


def _asked(people: dict[str, Member]) -> list[tuple[Address, str, list[str]]]:
    client = Client(raise_request_exception=False)
    cookies = {actor: _cookies(people, actor) for actor in ACTORS}
    return [
        (address, method, [_status(_with(cookies[actor], client), address, method) for actor in ACTORS])
        for address in addresses()
        for method in METHODS
    ]


def _status(client: Client, address: Address, method: str) -> str:
    """The status of one cell, with everything it wrote undone."""
    with transaction.atomic():
        before = _writes()
        answer = client.generic(method, address.path)
        if method == "GET":
            assert _writes() == before, f"GET {address.path} wrote something"
        transaction.set_rollback(True)
    return _as_written(answer, method)


def _as_written(answer: HttpResponseBase, method: str) -> str:
    to_sign_on = answer.status_code == HTTPStatus.FOUND and answer["Location"].startswith("/sign-in/")
    # Signing out leads to the same page, but from a POST that was allowed.
    return f"{answer.status_code}{'*' if to_sign_on and method == 'GET' else ''}"


def _refused(line: Line) -> str:
    """People are led to the sign-on page; other systems are told."""
    return "302*" if line.method == "GET" and not line.path.startswith("/api/") else "401"


def _writes() -> int:
    with connection.cursor() as cursor:
        cursor.execute(WRITES)
        return int(cursor.fetchone()[0] or 0)


def _cookies(people: dict[str, Member], actor: str) -> dict[str, str]:
    client = Client()
    if actor != ANONYMOUS:
        assert cast.sign_on(client, people[actor]).status_code == HTTPStatus.FOUND
    return {name: morsel.value for name, morsel in client.cookies.items()}


def _with(cookies: dict[str, str], client: Client) -> Client:
    """The client as a browser that has these cookies alone. One serves for all: a new one would load the site anew."""
    client.cookies.clear()
    for name, value in cookies.items():
        client.cookies[name] = value
    return client
