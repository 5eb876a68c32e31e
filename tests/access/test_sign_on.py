"""Signing on and off: badge and PIN, name and password, several people at one screen, and when it ends."""

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.test import Client, RequestFactory

from plant import sign_on as screens
from plant.credentials import set_password, set_pin
from plant.models import Account, Person, WrongPin
from tests.access import cast
from tests.access.cast import Member
from tests.access.conftest import Clock
from trace.codes import parse_label_code

NewClient = Callable[..., Client]


def opens(client: Client, path: str = "/") -> bool:
    return client.get(path).status_code == HTTPStatus.OK


def test_badge_and_pin_sign_on(people: dict[str, Member]) -> None:
    client = Client()
    assert not opens(client)
    answer = cast.sign_on(client, people["operator"])
    assert (answer.status_code, answer["Location"]) == (302, "/")
    page = client.get("/").content.decode()
    assert "Ines Orrell" in page
    assert "operator" in page
    assert opens(client, "/scan/load/")
    assert client.get("/scan/release/").status_code == HTTPStatus.FORBIDDEN


def test_a_badge_is_read_as_printed_typed_and_scanned(people: dict[str, Member]) -> None:
    badge = people["operator"].badge
    for text in (badge, parse_label_code(badge).printed, badge.lower(), f"HTTPS://LOT.LAN/S/{badge}"):
        client = Client()
        assert client.post("/sign-in/", {"badge": text, "pin": cast.PIN}).status_code == HTTPStatus.FOUND


def test_name_and_password_sign_on_at_the_desk(people: dict[str, Member]) -> None:
    client = Client()
    assert cast.sign_on_at_desk(client, people["quality"]).status_code == HTTPStatus.FOUND
    assert opens(client)
    # The refusal calls the boxes what the form calls them.
    wrong = Client().post("/sign-in/desk/", {"name": "Priya Ashdown", "password": people["quality"].password})
    assert "Key and password do not fit together" in wrong.content.decode()
    assert "Key, as on the badge list" in wrong.content.decode()


def test_a_pin_is_no_password_and_a_password_no_pin(people: dict[str, Member]) -> None:
    one = people["quality"]
    client = Client()
    assert client.post("/sign-in/desk/", {"name": one.key, "password": one.pin}).status_code == 401
    assert client.post("/sign-in/", {"badge": one.badge, "pin": one.password}).status_code == 401
    assert not opens(client)


@pytest.mark.parametrize("spoil", [cast.leave, cast.lock_account])
def test_who_left_or_is_locked_out_cannot_sign_on(
    people: dict[str, Member], spoil: Callable[[Member], None]
) -> None:
    spoil(people["operator"])
    assert cast.sign_on(Client(), people["operator"]).status_code == HTTPStatus.UNAUTHORIZED


def test_a_badge_that_was_replaced_does_not_sign_on(people: dict[str, Member]) -> None:
    cast.replace_badge(people["operator"])
    assert cast.sign_on(Client(), people["operator"]).status_code == HTTPStatus.UNAUTHORIZED


def test_without_a_pin_or_password_nothing_fits(people: dict[str, Member]) -> None:
    """An empty PIN field never meets an empty hash."""
    Account.objects.filter(person="ORRELL").update(pin="", password="")
    for pin in ("", cast.PIN):
        assert Client().post("/sign-in/", {"badge": people["operator"].badge, "pin": pin}).status_code == 401
    assert Client().post("/sign-in/desk/", {"name": "ORRELL", "password": ""}).status_code == 401


def test_hashes_are_argon2(people: dict[str, Member]) -> None:
    """ASVS 5.0, 11.4.2 and 6.5.2: PINs are kept as passwords are."""
    for account in Account.objects.all():
        assert account.pin.startswith("argon2$argon2id$")
        assert account.password.startswith("argon2$argon2id$")


def test_signing_on_changes_the_session_s_id_and_the_forms_token(people: dict[str, Member]) -> None:
    client = Client()
    client.get("/sign-in/")
    token = client.cookies["form"].value
    cast.sign_on(client, people["operator"])
    first, second_token = client.cookies["session"].value, client.cookies["form"].value
    assert token != second_token
    cast.sign_on(client, people["lead"])
    second = client.cookies["session"].value
    assert first != second
    assert not Session.objects.filter(session_key=first).exists()
    old = Client()
    old.cookies["session"] = first
    assert not opens(old)


def test_a_session_id_from_outside_is_never_taken_over(people: dict[str, Member]) -> None:
    client = Client()
    client.cookies["session"] = "fixedbyanattackerfixedbyanattack"
    cast.sign_on(client, people["operator"])
    assert client.cookies["session"].value != "fixedbyanattackerfixedbyanattack"


def test_signing_out_ends_the_session_for_its_old_cookie_too(people: dict[str, Member]) -> None:
    client = Client()
    cast.sign_on(client, people["operator"])
    cookie = client.cookies["session"].value
    assert client.post("/sign-out/").status_code == HTTPStatus.FOUND
    assert Session.objects.count() == 0
    client.cookies["session"] = cookie
    assert not opens(client)
    assert client.post("/scan/load/").status_code == HTTPStatus.UNAUTHORIZED


def test_a_new_pin_or_password_ends_every_session_of_the_person(people: dict[str, Member]) -> None:
    sets: list[tuple[str, Callable[[Person, str], None], str]] = [
        ("operator", set_pin, "739104"),
        ("lead", set_password, "seven quiet herons wade"),
    ]
    for role, give, secret in sets:
        client = Client()
        cast.sign_on(client, people[role])
        assert opens(client)
        give(Person.objects.get(key=people[role].key), secret)
        assert not opens(client)


def test_rights_change_at_the_next_request(people: dict[str, Member]) -> None:
    client = Client()
    cast.sign_on(client, people["operator"])
    assert opens(client, "/scan/load/")
    cast.change(people["operator"], roles=["warehouse"])
    assert client.get("/scan/load/").status_code == HTTPStatus.FORBIDDEN
    assert client.post("/scan/load/").status_code == HTTPStatus.FORBIDDEN
    assert opens(client, "/scan/pack/")


@pytest.mark.parametrize(
    "spoil", [cast.leave, cast.lock_account, lambda m: cast.change(m, until="2020-01-01")]
)
def test_who_no_longer_counts_is_out_at_the_next_request(
    people: dict[str, Member], spoil: Callable[[Member], None]
) -> None:
    client = Client()
    cast.sign_on(client, people["operator"])
    spoil(people["operator"])
    assert client.post("/scan/load/").status_code == HTTPStatus.UNAUTHORIZED
    assert Session.objects.count() == 0


def test_a_day_badge_ends_with_the_shift(people: dict[str, Member], clock: Clock) -> None:
    member = cast.enter(
        "DAY-1", "Rafe P.", roles=["operator"], day_badge=True, tasks=["load"],
        until=clock.now.replace(second=59).isoformat(),
    )  # fmt: skip
    client = Client()
    cast.sign_on(client, member)
    assert opens(client, "/scan/load/")
    assert client.get("/scan/weigh/").status_code == HTTPStatus.FORBIDDEN
    assert client.get("/search/").status_code == HTTPStatus.FORBIDDEN
    clock.on(seconds=29)
    assert client.post("/scan/load/").status_code == HTTPStatus.UNAUTHORIZED
    assert cast.sign_on(Client(), member).status_code == HTTPStatus.UNAUTHORIZED


def test_an_unused_screen_signs_everybody_off(people: dict[str, Member], clock: Clock) -> None:
    floor, desk = Client(), Client()
    cast.sign_on(floor, people["operator"])
    cast.sign_on_at_desk(desk, people["quality"])
    clock.on(minutes=10)
    assert opens(floor)
    clock.on(minutes=10, seconds=1)
    answer = floor.get("/scan/load/")
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/?next=%2Fscan%2Fload%2F")
    assert opens(desk)
    clock.on(minutes=30, seconds=1)
    assert not opens(desk)


def test_use_keeps_a_screen_signed_on_but_never_beyond_ten_hours(
    people: dict[str, Member], clock: Clock
) -> None:
    client = Client()
    cast.sign_on(client, people["operator"])
    for _ in range(66):
        clock.on(minutes=9)
        assert opens(client)
    clock.on(minutes=5, seconds=59)
    assert opens(client)
    clock.on(seconds=1)
    assert not opens(client)


def test_the_session_s_row_is_written_once_a_minute_at_most(people: dict[str, Member], clock: Clock) -> None:
    client = Client()
    cast.sign_on(client, people["operator"])
    kept = Session.objects.get().session_data
    clock.on(seconds=59)
    client.get("/")
    assert Session.objects.get().session_data == kept
    clock.on(seconds=1)
    client.get("/")
    assert Session.objects.get().session_data != kept


def test_several_people_sign_on_at_one_screen(people: dict[str, Member]) -> None:
    """Two load one mould; the one who signed on last is the current one until somebody switches."""
    client = Client()
    cast.sign_on(client, people["operator"])
    assert "Ines Orrell" in client.get("/sign-in/").content.decode()
    cast.sign_on(client, people["lead"])
    request = judged(client)
    assert [one.name for one in screens.people_signed_on(request)] == ["Ines Orrell", "Sunniva Lund"]
    assert current_key(request) == "LUND"
    assert screens.switch_to(request, "ORRELL")
    assert current_key(request) == "ORRELL"
    assert request.user.person == "ORRELL"
    request.session.save()
    assert current_key(judged(client)) == "ORRELL"
    assert not screens.switch_to(request, "ASHDOWN")
    assert current_key(request) == "ORRELL"


def test_signing_on_again_does_not_list_a_person_twice(people: dict[str, Member]) -> None:
    client = Client()
    for role in ("operator", "lead", "operator"):
        cast.sign_on(client, people[role])
    request = judged(client)
    assert [one.person for one in screens.people_signed_on(request)] == ["LUND", "ORRELL"]
    assert current_key(request) == "ORRELL"


def test_rights_are_those_of_the_current_person_alone(people: dict[str, Member]) -> None:
    client = Client()
    cast.sign_on(client, people["lead"])
    cast.sign_on(client, people["warehouse"])
    assert client.get("/scan/load/").status_code == HTTPStatus.FORBIDDEN
    assert opens(client, "/scan/pack/")


def test_one_person_signs_off_and_the_other_stays(people: dict[str, Member]) -> None:
    client = Client()
    cast.sign_on(client, people["operator"])
    cast.sign_on(client, people["lead"])
    assert client.post("/sign-out/", {"person": "ORRELL"})["Location"] == "/"
    assert [one.person for one in screens.people_signed_on(judged(client))] == ["LUND"]
    assert client.post("/sign-out/", {"person": "LUND"})["Location"] == "/sign-in/"
    assert not opens(client)


def test_when_the_current_person_leaves_no_scan_falls_to_the_next_in_the_list(
    people: dict[str, Member],
) -> None:
    client = Client()
    cast.sign_on(client, people["lead"])
    cast.sign_on(client, people["operator"])
    cast.leave(people["operator"])
    assert client.post("/scan/load/").status_code == HTTPStatus.UNAUTHORIZED


def test_when_another_person_leaves_the_current_one_goes_on(people: dict[str, Member]) -> None:
    client = Client()
    cast.sign_on(client, people["lead"])
    cast.sign_on(client, people["operator"])
    cast.leave(people["lead"])
    assert opens(client, "/scan/load/")
    assert [one.person for one in screens.people_signed_on(judged(client))] == ["ORRELL"]


def test_the_desk_has_one_person_at_a_time(people: dict[str, Member]) -> None:
    client = Client()
    cast.sign_on(client, people["operator"])
    cast.sign_on_at_desk(client, people["quality"])
    assert [one.person for one in screens.people_signed_on(judged(client))] == ["ASHDOWN"]
    cast.sign_on(client, people["operator"])
    assert [one.person for one in screens.people_signed_on(judged(client))] == ["ORRELL"]


def test_a_browser_gets_one_device_id_and_keeps_it(people: dict[str, Member]) -> None:
    client = Client()
    client.get("/sign-in/")
    first = screens.device_of(asked(client))
    assert first.id.startswith("d-")
    assert not first.known
    cast.sign_on(client, people["operator"])
    second = screens.device_of(asked(client))
    assert (second.id, second.known) == (first.id, True)
    client.cookies["device"] = client.cookies["device"].value[:-2] + "xx"
    forged = screens.device_of(asked(client))
    assert forged.fresh
    assert forged.id != first.id


def test_a_wrong_try_leaves_no_session_behind(people: dict[str, Member]) -> None:
    client = Client()
    client.post("/sign-in/", {"badge": people["operator"].badge, "pin": "111111"})
    assert "session" not in client.cookies
    assert Session.objects.count() == 0
    assert WrongPin.objects.count() == 1


def asked(client: Client) -> Any:
    """A request with this browser's cookies."""
    factory = RequestFactory()
    factory.cookies = client.cookies
    return factory.get("/")


def judged(client: Client) -> Any:
    """A request of this browser, as a view gets it."""
    request = asked(client)
    request.session = client.session
    screens.read_screen(request)
    return request


def current_key(request: Any) -> str:
    person = screens.current(request)
    return person.person if person else ""
