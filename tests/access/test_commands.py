"""set_pin and set_password: for people in the plant data only, and nothing that is easy to guess."""

import io
from collections.abc import Callable
from http import HTTPStatus

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from plant.models import Account
from tests.access import cast
from tests.access.cast import Member


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """What comes from standard input."""
    return lambda text: monkeypatch.setattr("sys.stdin", io.StringIO(text))


def test_a_pin_is_set_by_key_or_badge(people: dict[str, Member], typed: Callable[[str], None]) -> None:
    one = people["operator"]
    for name, pin in ((one.key, "739104"), (one.badge, "571938")):
        typed(pin + "\n")
        said = io.StringIO()
        call_command("set_pin", name, "--from-stdin", stdout=said)
        assert said.getvalue() == "The PIN of ORRELL is set.\n"
        assert Client().post("/sign-in/", {"badge": one.badge, "pin": pin}).status_code == HTTPStatus.FOUND
    assert Client().post("/sign-in/", {"badge": one.badge, "pin": "739104"}).status_code == 401


def test_a_password_is_set(people: dict[str, Member], typed: Callable[[str], None]) -> None:
    typed("nine grey gulls over mud\n")
    call_command("set_password", "ORRELL", "--from-stdin", stdout=io.StringIO())
    posted = {"name": "ORRELL", "password": "nine grey gulls over mud"}
    assert Client().post("/sign-in/desk/", posted).status_code == HTTPStatus.FOUND


@pytest.mark.parametrize(
    "pin",
    [
        "",
        "12345",
        "1234567",
        "12345a",
        "٤٠٢٩١٧",
        "000000",
        "777777",
        "123456",
        "654321",
        "123123",
        "121212",
        " 40291",
    ],
)
def test_a_pin_that_is_no_pin_or_first_to_be_guessed(
    people: dict[str, Member], typed: Callable[[str], None], pin: str
) -> None:
    before = Account.objects.get(person="ORRELL").pin
    typed(pin + "\n")
    with pytest.raises(CommandError):
        call_command("set_pin", "ORRELL", "--from-stdin")
    assert Account.objects.get(person="ORRELL").pin == before


@pytest.mark.parametrize("password", ["", "short", "password1234"])
def test_a_password_too_short_or_common(
    people: dict[str, Member], typed: Callable[[str], None], password: str
) -> None:
    typed(password + "\n")
    with pytest.raises(CommandError):
        call_command("set_password", "ORRELL", "--from-stdin")


@pytest.mark.parametrize("command", ["set_pin", "set_password"])
def test_nobody_gets_an_account_who_is_not_in_the_plant_data(
    people: dict[str, Member], typed: Callable[[str], None], command: str
) -> None:
    count = Account.objects.count()
    typed("739104\n")
    with pytest.raises(CommandError, match="nobody in the plant data"):
        call_command(command, "ADMIN", "--from-stdin")
    cast.leave(people["planner"])
    with pytest.raises(CommandError, match="has left"):
        call_command(command, people["planner"].key, "--from-stdin")
    assert Account.objects.count() == count


def test_a_pin_typed_twice_must_agree(people: dict[str, Member], monkeypatch: pytest.MonkeyPatch) -> None:
    typed = iter(["739104", "739105"])
    monkeypatch.setattr("getpass.getpass", lambda _: next(typed))
    with pytest.raises(CommandError, match="do not agree"):
        call_command("set_pin", "ORRELL")
