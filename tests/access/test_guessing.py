"""Guessing PINs: five tries at a person, twenty from one place, and nothing learnt on the way."""

import os
from collections.abc import Callable
from http import HTTPStatus
from ipaddress import ip_network

import pytest
from django.test import Client, RequestFactory
from pytest_django import Settings

from plant.address import address_of
from plant.guessing import begin_try
from plant.models import Account, WrongPin
from tests.access import cast
from tests.access.cast import Member
from tests.access.conftest import Clock
from tests.databases import Database
from tests.hashers import QuickArgon2PasswordHasher
from trace.codes import issue_label_code

LOCKED = HTTPStatus.TOO_MANY_REQUESTS
WRONG = HTTPStatus.UNAUTHORIZED
UNKNOWN = issue_label_code(900_001)


def guess(client: Client, badge: str, pin: str = "111111") -> int:
    status: int = client.post("/sign-in/", {"badge": badge, "pin": pin}).status_code
    return status


def known_device(member: Member, address: str = "10.0.0.1") -> Client:
    """A browser somebody signed in on before, from that address."""
    client = Client(REMOTE_ADDR=address)
    cast.sign_on(client, member)
    client.post("/sign-out/")
    return client


def test_five_wrong_pins_lock_the_person_for_a_quarter_of_an_hour(
    people: dict[str, Member], clock: Clock
) -> None:
    badge = people["operator"].badge
    client = Client()
    assert [guess(client, badge) for _ in range(5)] == [WRONG] * 5
    assert guess(client, badge, cast.PIN) == LOCKED
    clock.on(minutes=14, seconds=59)
    assert guess(client, badge, cast.PIN) == LOCKED
    clock.on(seconds=1)
    assert guess(client, badge, cast.PIN) == HTTPStatus.FOUND


def test_the_lock_holds_on_every_unknown_screen_and_touches_nobody_else(
    people: dict[str, Member], clock: Clock
) -> None:
    client = Client()
    for _ in range(5):
        guess(client, people["operator"].badge)
    elsewhere = Client(REMOTE_ADDR="10.0.0.9")
    assert guess(elsewhere, people["operator"].badge, cast.PIN) == LOCKED
    assert guess(elsewhere, people["lead"].badge, cast.PIN) == HTTPStatus.FOUND


def test_a_stranger_locks_nobody_out_at_the_device_they_use_daily(people: dict[str, Member], clock: Clock) -> None:
    mine = known_device(people["operator"])
    stranger = Client(REMOTE_ADDR="10.0.0.9")
    assert [guess(stranger, people["operator"].badge) for _ in range(6)] == [WRONG] * 5 + [LOCKED]
    assert guess(mine, people["operator"].badge, cast.PIN) == HTTPStatus.FOUND
    # Nor does it help the stranger that the person signs in.
    assert guess(stranger, people["operator"].badge, cast.PIN) == LOCKED


def test_a_known_device_is_locked_for_a_person_by_its_own_tries(people: dict[str, Member], clock: Clock) -> None:
    wild, other = known_device(people["operator"]), known_device(people["operator"])
    assert [guess(wild, people["lead"].badge) for _ in range(6)] == [WRONG] * 5 + [LOCKED]
    assert guess(wild, people["operator"].badge, cast.PIN) == HTTPStatus.FOUND
    assert guess(other, people["lead"].badge, cast.PIN) == HTTPStatus.FOUND


def test_behind_the_plant_s_proxy_each_browser_has_its_own_address(
    people: dict[str, Member], clock: Clock, settings: Settings
) -> None:
    """Of X-Forwarded-For only what the named proxy added is believed: the last address that is no proxy's."""
    settings.TRUSTED_PROXY = [ip_network("10.0.0.5"), ip_network("10.9.0.0/16")]

    def browser(said: str, peer: str = "10.0.0.5") -> Client:
        return Client(REMOTE_ADDR=peer, headers={"X-Forwarded-For": said})

    for n in range(20):
        assert guess(browser(f"192.0.2.{n}, 198.51.100.1"), issue_label_code(830_000 + n)) == WRONG
    badge = people["lead"].badge
    assert guess(browser("192.0.2.1, 198.51.100.1"), badge, cast.PIN) == LOCKED
    assert guess(browser("198.51.100.1, 10.9.3.4"), badge, cast.PIN) == LOCKED
    assert guess(browser("198.51.100.1", peer="10.0.0.6"), badge, cast.PIN) == HTTPStatus.FOUND
    assert guess(browser("198.51.100.1, 198.51.100.2"), badge, cast.PIN) == HTTPStatus.FOUND


@pytest.mark.parametrize(
    ("peer", "said", "address"),
    [
        ("10.0.0.5", "", "10.0.0.5"),
        ("10.0.0.5", "not an address", "10.0.0.5"),
        ("10.0.0.5", "198.51.100.1, ", "10.0.0.5"),
        ("10.0.0.5", "10.0.0.5", "10.0.0.5"),
        ("10.0.0.5", "2001:db8::7", "2001:db8::7"),
        ("", "198.51.100.1", ""),
    ],
)
def test_the_address_of_a_request(peer: str, said: str, address: str, settings: Settings) -> None:
    settings.TRUSTED_PROXY = [ip_network("10.0.0.5")]
    request = RequestFactory().get("/", REMOTE_ADDR=peer, headers={"X-Forwarded-For": said})
    assert address_of(request) == address


def test_pressing_on_while_locked_does_not_lengthen_the_lock(people: dict[str, Member], clock: Clock) -> None:
    badge = people["operator"].badge
    client = Client()
    for _ in range(5):
        guess(client, badge)
    for _ in range(14):
        clock.on(minutes=1)
        assert guess(client, badge) == LOCKED
    clock.on(minutes=1)
    assert guess(client, badge, cast.PIN) == HTTPStatus.FOUND


def test_no_more_than_five_tries_in_any_quarter_of_an_hour(people: dict[str, Member], clock: Clock) -> None:
    """Patient guessing from many places gets 20 tries an hour, 480 a day: 10^6 / 2 / 480 = 1,042 days for one half.

    Tried for eight hours; with LONG_TESTS (deploy/test --long) for the whole day.
    """
    hours = 24 if os.environ.get("LONG_TESTS") else 8
    client, tried = Client(), 0
    for minute in range(0, hours * 60, 2):
        # A browser without any history, from an address of its own.
        client.cookies.clear()
        client.defaults["REMOTE_ADDR"] = f"10.1.{minute // 250}.{minute % 250}"
        tried += guess(client, people["operator"].badge) == WRONG
        clock.on(minutes=2)
    assert tried <= 20 * hours


def test_a_right_pin_strikes_out_the_person_s_own_slips(people: dict[str, Member], clock: Clock) -> None:
    client = known_device(people["operator"])
    for _ in range(3):
        assert [guess(client, people["operator"].badge) for _ in range(4)] == [WRONG] * 4
        assert guess(client, people["operator"].badge, cast.PIN) == HTTPStatus.FOUND
    assert WrongPin.objects.count() == 0


def test_a_right_pin_here_does_not_strike_out_tries_made_elsewhere(
    people: dict[str, Member], clock: Clock
) -> None:
    client = known_device(people["operator"])
    other = Client(REMOTE_ADDR="10.0.0.66")
    assert [guess(other, people["operator"].badge) for _ in range(4)] == [WRONG] * 4
    assert guess(client, people["operator"].badge, cast.PIN) == HTTPStatus.FOUND
    assert guess(other, people["operator"].badge) == WRONG
    assert guess(other, people["operator"].badge) == LOCKED


def test_twenty_wrong_pins_an_hour_lock_the_place(people: dict[str, Member], clock: Clock) -> None:
    """Spraying: a few PINs at each of many badges from one tablet."""
    client = Client()
    badges = [issue_label_code(800_000 + n) for n in range(20)]
    assert [guess(client, badge) for badge in badges] == [WRONG] * 20
    assert guess(client, people["lead"].badge, cast.PIN) == LOCKED
    assert guess(Client(REMOTE_ADDR="10.0.0.9"), people["lead"].badge, cast.PIN) == HTTPStatus.FOUND
    clock.on(minutes=60)
    assert guess(client, people["lead"].badge, cast.PIN) == HTTPStatus.FOUND


def test_throwing_cookies_away_or_naming_another_address_gains_nothing(
    people: dict[str, Member], clock: Clock
) -> None:
    for n in range(20):
        fresh = Client(
            headers={"X-Forwarded-For": f"192.0.2.{n}", "X-Real-Ip": f"192.0.2.{n}", "Forwarded": "for=1"}
        )
        fresh.get("/sign-in/")
        assert guess(fresh, issue_label_code(810_000 + n)) == WRONG
    assert guess(Client(headers={"X-Forwarded-For": "192.0.2.99"}), people["lead"].badge, cast.PIN) == LOCKED


def test_a_known_tablet_is_counted_by_itself(people: dict[str, Member], clock: Clock) -> None:
    """Behind one address stand many tablets: one that goes wild does not lock out the others."""
    good, wild = known_device(people["lead"]), known_device(people["operator"])
    for n in range(20):
        guess(wild, issue_label_code(820_000 + n))
    assert guess(wild, people["lead"].badge, cast.PIN) == LOCKED
    assert guess(good, people["lead"].badge, cast.PIN) == HTTPStatus.FOUND


def test_unknown_badge_and_wrong_pin_get_the_same_page(people: dict[str, Member], clock: Clock) -> None:
    def pages(badge: str) -> list[tuple[int, bytes]]:
        client = Client(REMOTE_ADDR=f"10.2.0.{len(badge)}")
        answers = [client.post("/sign-in/", {"badge": badge, "pin": "111111"}) for _ in range(6)]
        return [(a.status_code, without_token(a.content)) for a in answers]

    cast.leave(people["planner"])
    known = pages(people["operator"].badge)
    for other in (UNKNOWN, "not a badge", people["planner"].badge):
        WrongPin.objects.exclude(person="ORRELL").delete()
        assert pages(other) == known


def test_the_desk_is_limited_in_the_same_way(people: dict[str, Member], clock: Clock) -> None:
    for name in (people["quality"].key, "NOBODY"):
        client = Client(REMOTE_ADDR="10.3.0.1")
        posted = {"name": name, "password": "wrong"}
        assert [client.post("/sign-in/desk/", posted).status_code for _ in range(6)] == [WRONG] * 5 + [LOCKED]
    right = {"name": people["quality"].key, "password": cast.PASSWORD}
    assert Client(REMOTE_ADDR="10.3.0.2").post("/sign-in/desk/", right).status_code == LOCKED


def test_many_tries_at_once_get_no_more_than_five(
    fresh_database: Database, at_once: Callable[..., list[int | None]]
) -> None:
    tries = at_once(*[lambda n=n: begin_try("ORRELL", f"address 10.4.0.{n}") for n in range(12)])
    assert sum(tried is not None for tried in tries) == 5


def test_an_unknown_badge_costs_one_hashing_like_a_wrong_pin(
    people: dict[str, Member], clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The hash is nearly all of the time an answer takes, so one for everybody hides who is known."""
    Account.objects.filter(person="QUILL").update(pin="")
    cast.leave(people["planner"])
    guess(Client(), UNKNOWN)  # makes the hash of nobody, once in the life of a process
    hashings = []
    verify = QuickArgon2PasswordHasher.verify

    def counted(self: QuickArgon2PasswordHasher, password: str, encoded: str) -> bool:
        hashings.append(encoded)
        return bool(verify(self, password, encoded))

    monkeypatch.setattr(QuickArgon2PasswordHasher, "verify", counted)
    badges = [UNKNOWN, "not a badge", *(people[role].badge for role in ("operator", "stores", "planner"))]
    for badge in badges:
        hashings.clear()
        assert guess(Client(), badge) == WRONG
        assert len(hashings) == 1, badge


def without_token(page: bytes) -> bytes:
    begin = page.find(b'name="csrfmiddlewaretoken" value="')
    return page[:begin] + page[begin + 34 + 64 :]
