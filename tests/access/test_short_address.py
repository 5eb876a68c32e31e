"""The address in a label: one page for all strangers, the record for those signed in."""

from http import HTTPStatus

import pytest
from django.test import Client

from plant.models import Setting
from tests.access import cast
from tests.access.cast import Member
from tests.access.conftest import Clock
from trace.codes import issue_label_code, parse_label_code

UNKNOWN = issue_label_code(700_001)


def test_a_stranger_sees_the_same_bytes_for_every_well_formed_code(people: dict[str, Member]) -> None:
    """Codes can be counted through, so a page must not tell which of them exist."""
    hull, held = cast.a_hull(1), cast.a_hull(2)
    cast.a_hold(held, "quality")
    codes = [
        UNKNOWN, hull.hull_code, hull.plate_code, held.hull_code, people["operator"].badge,
        parse_label_code(UNKNOWN).printed, UNKNOWN.lower(),
    ]  # fmt: skip
    answers = [Client().get(f"/S/{code}") for code in codes]
    assert {answer.status_code for answer in answers} == {HTTPStatus.OK}
    assert len({answer.content for answer in answers}) == 1
    assert len({tuple(sorted(answer.headers.items())) for answer in answers}) == 1
    assert not any(answer.cookies for answer in answers)
    assert answers[0]["Referrer-Policy"] == "no-referrer"


def test_a_hull_under_a_stop_use_notice_shows_it(people: dict[str, Member]) -> None:
    hull, other = cast.a_hull(1), cast.a_hull(2)
    cast.a_hold(hull, "stop-use")
    for code in (hull.hull_code, hull.plate_code):
        page = Client().get(f"/S/{code}").content.decode()
        assert "Stop using this hull" in page
        assert hull.serial not in page
    assert "Stop using" not in Client().get(f"/S/{other.hull_code}").content.decode()
    cast.end_holds(hull)
    assert "Stop using" not in Client().get(f"/S/{hull.hull_code}").content.decode()


@pytest.mark.parametrize(
    "code",
    [
        "X",
        "33333333",
        UNKNOWN[:-1] + ("3" if UNKNOWN[-1] != "3" else "4"),
        "A" * 400,
        "<script>",
        "%00",
        "Å" * 8,
    ],
)
def test_a_malformed_code_has_no_page(db: None, code: str) -> None:
    assert Client().get(f"/S/{code}").status_code == HTTPStatus.NOT_FOUND


def test_the_people_of_the_plant_are_led_to_the_record(people: dict[str, Member]) -> None:
    hull = cast.a_hull(3)
    client = Client()
    cast.sign_on(client, people["warehouse"])
    for code in (hull.hull_code, hull.plate_code, hull.hull_code.lower()):
        answer = client.get(f"/S/{code}")
        assert (answer.status_code, answer["Location"]) == (302, f"/hull/{hull.serial}/")
    assert client.get(f"/S/{UNKNOWN}")["Location"] == f"/lot/{UNKNOWN}/"


def test_the_plant_s_own_words_are_shown(db: None) -> None:
    for n, (key, value) in enumerate(
        {"plant-name": "Halden Moulding", "plant-contact": "Ring 01632 960001."}.items()
    ):
        Setting.objects.create(key=key, resource=n + 1, version=1, body={"value": value})
    page = Client().get(f"/S/{UNKNOWN}").content.decode()
    assert "Halden Moulding" in page
    assert "Ring 01632 960001." in page


def test_strangers_get_thirty_pages_a_minute_for_each_address(
    people: dict[str, Member], clock: Clock
) -> None:
    """Whatever the code is, and whatever the headers say about where they come from."""
    codes = [UNKNOWN, "malformed", people["lead"].badge] * 10
    for n, code in enumerate(codes):
        answer = Client(headers={"X-Forwarded-For": f"192.0.2.{n}"}).get(
            f"/S/{code}", REMOTE_ADDR="198.51.100.7"
        )
        assert answer.status_code != HTTPStatus.TOO_MANY_REQUESTS
    over = Client().get(f"/S/{UNKNOWN}", REMOTE_ADDR="198.51.100.7")
    assert (over.status_code, over["Retry-After"]) == (429, "60")
    assert Client().get(f"/S/{UNKNOWN}", REMOTE_ADDR="198.51.100.8").status_code == HTTPStatus.OK
    clock.on(minutes=1)
    assert Client().get(f"/S/{UNKNOWN}", REMOTE_ADDR="198.51.100.7").status_code == HTTPStatus.OK


def test_the_people_of_the_plant_are_not_counted(people: dict[str, Member], clock: Clock) -> None:
    client = Client()
    cast.sign_on(client, people["warehouse"])
    assert {client.get(f"/S/{UNKNOWN}").status_code for _ in range(40)} == {302}
