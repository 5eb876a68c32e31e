"""A plant's database as the migrations leave it: nobody can sign on, there is no account to try."""

from http import HTTPStatus

from django.test import Client

from plant.models import Account, Person
from tests.databases import Database


def test_no_account_comes_with_the_software(unmarked_database: Database) -> None:
    """ASVS 5.0, 6.3.2."""
    assert Account.objects.count() == 0
    assert Person.objects.count() == 0
    for name in ("admin", "ADMIN", "administrator", "root", "demo", ""):
        for secret in ("", "admin", "password", "000000", "123456", name):
            client = Client()
            assert client.post("/sign-in/desk/", {"name": name, "password": secret}).status_code in {401, 429}
            assert client.post("/sign-in/", {"badge": name, "pin": secret}).status_code in {401, 429}
            assert client.get("/").status_code == HTTPStatus.FOUND


def test_an_account_without_a_person_opens_nothing(unmarked_database: Database) -> None:
    """A row slipped into the table of accounts alone is of no use: rights come from the plant data."""
    stray = Account.objects.create(person="STRAY")
    stray.set_password("lantern over slow water")
    stray.save()
    posted = {"name": "STRAY", "password": "lantern over slow water"}
    assert Client().post("/sign-in/desk/", posted).status_code == HTTPStatus.UNAUTHORIZED
