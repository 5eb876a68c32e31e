"""Forms that others forged, and addresses to go on to that others wrote."""

from http import HTTPStatus
from urllib.parse import urljoin, urlsplit

import pytest
from django.db import connection
from django.test import Client

from plant.access import ANYONE, decide
from plant.roles import ROLES
from tests.access import cast
from tests.access.addresses import WITHOUT_FORM_TOKEN, addresses
from tests.access.cast import Member

ROWS = "SELECT relname, n_tup_ins, n_tup_upd, n_tup_del FROM pg_stat_xact_user_tables ORDER BY relname"


def test_every_form_without_its_token_is_refused_and_writes_nothing(people: dict[str, Member]) -> None:
    """ASVS 5.0, 3.5.1: for each address that takes POST, by a person who may send it."""
    asked = 0
    for address in addresses():
        actor = next(
            (role for role in ROLES if decide({role}, address.name, "POST", dict(address.parts)) == "yes"),
            None,
        )
        if actor is None or address.name in WITHOUT_FORM_TOKEN:
            continue
        client = Client(enforce_csrf_checks=True)
        signed_on(client, people[actor])
        before = rows()
        if address.name.startswith("api_"):
            # Other systems send JSON: a form, which another site's page could send, is not even read.
            assert client.post(address.path, {"anything": "x"}).status_code == HTTPStatus.UNSUPPORTED_MEDIA_TYPE
            answer = client.post(address.path, {"anything": "x"}, content_type="application/json")
            said = "CSRF Failed"
        else:
            answer, said = client.post(address.path, {"anything": "x"}), "too old to be sent"
        assert answer.status_code == HTTPStatus.FORBIDDEN, address.path
        assert said in answer.content.decode(), address.path
        assert rows() == before, address.path
        asked += 1
    assert asked > 15


def test_a_form_with_its_token_goes_through(people: dict[str, Member]) -> None:
    client = Client(enforce_csrf_checks=True)
    signed_on(client, people["operator"])
    page = client.get("/").content.decode()
    token = page.split('name="csrfmiddlewaretoken" value="')[1].split('"')[0]
    assert client.post("/sign-out/", {"csrfmiddlewaretoken": token}).status_code == HTTPStatus.FOUND


def test_a_form_from_another_site_is_refused_even_with_a_token(people: dict[str, Member]) -> None:
    client = Client(enforce_csrf_checks=True)
    token = token_of(client)
    posted = {"badge": people["operator"].badge, "pin": cast.PIN, "csrfmiddlewaretoken": token}
    for origin in ("https://elsewhere.example", "null"):
        assert (
            client.post("/sign-in/", posted, headers={"Origin": origin}).status_code == HTTPStatus.FORBIDDEN
        )
    assert (
        client.post("/sign-in/", posted, headers={"Origin": "http://testserver"}).status_code
        == HTTPStatus.FOUND
    )


@pytest.mark.django_db
def test_forms_of_the_site_carry_their_origin() -> None:
    """Under the policy no-referrer browsers send "Origin: null" with a form (Fetch standard, 3.2)."""
    assert Client().get("/sign-in/")["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize(
    "wanted",
    [
        "//elsewhere.example", "///elsewhere.example", "////elsewhere.example/a", "https://elsewhere.example",
        "http:elsewhere.example", "https:///elsewhere.example", "/\\elsewhere.example",
        "\\\\elsewhere.example",
        "/\t/elsewhere.example", "\t//elsewhere.example", "/\n/elsewhere.example", " //elsewhere.example",
        "javascript:alert(1)", "data:text/html,x", "elsewhere.example", "/\x00/elsewhere.example", "http://[::1",
        "//testserver@elsewhere.example", "http://testserver.elsewhere.example/", "/.//elsewhere.example",
    ],
)  # fmt: skip
@pytest.mark.parametrize("where", ["form", "address"])
def test_signing_on_never_leads_off_this_server(people: dict[str, Member], wanted: str, where: str) -> None:
    """ASVS 5.0, 3.7.2; browsers read \\ as / and leave out tabs and line ends (WHATWG URL standard, 4.4)."""
    client = Client()
    posted = {"badge": people["operator"].badge, "pin": cast.PIN}
    if where == "form":
        answer = client.post("/sign-in/", {**posted, "next": wanted})
    else:
        answer = client.post("/sign-in/", posted, query_params={"next": wanted})
    assert answer.status_code == HTTPStatus.FOUND
    as_browsers_read = answer["Location"].replace("\\", "/").replace("\t", "").replace("\n", "")
    assert urlsplit(urljoin("http://testserver/sign-in/", as_browsers_read))[:2] == ("http", "testserver")


def test_signing_on_leads_back_to_the_page_asked_for(people: dict[str, Member]) -> None:
    client = Client()
    asked = client.get("/hull/GHM-T430-00001/?on=2026-04-01")["Location"]
    assert asked == "/sign-in/?next=%2Fhull%2FGHM-T430-00001%2F%3Fon%3D2026-04-01"
    assert 'name="next" value="/hull/GHM-T430-00001/?on=2026-04-01"' in client.get(asked).content.decode()
    answer = cast.sign_on(client, people["operator"], next="/hull/GHM-T430-00001/?on=2026-04-01")
    assert answer["Location"] == "/hull/GHM-T430-00001/?on=2026-04-01"


def test_the_sign_on_pages_are_open_to_all() -> None:
    for name in ("sign_in", "sign_in_desk", "sign_out"):
        assert all(decide({actor}, name, "POST") == "yes" for actor in ANYONE)


def signed_on(client: Client, member: Member) -> None:
    posted = {"badge": member.badge, "pin": member.pin, "csrfmiddlewaretoken": token_of(client)}
    assert client.post("/sign-in/", posted).status_code == HTTPStatus.FOUND


def token_of(client: Client) -> str:
    return (
        client.get("/sign-in/").content.decode().split('name="csrfmiddlewaretoken" value="')[1].split('"')[0]
    )


def rows() -> list[tuple[str, int, int, int]]:
    with connection.cursor() as cursor:
        cursor.execute(ROWS)
        return list(cursor.fetchall())
