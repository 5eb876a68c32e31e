"""The first person in a plant that has nobody yet."""

import io
import sys

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client

from plant.models import Account, Person
from trace.models import Event

PASSWORD = "lantern over slow water"


def run(monkeypatch: pytest.MonkeyPatch, password: str = PASSWORD) -> str:
    out = io.StringIO()
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"{password}\n"))
    call_command("first_administrator", "P-01", "Corin Hale", "--from-stdin", stdout=out)
    return out.getvalue()


@pytest.mark.django_db
def test_the_first_person_signs_in_as_administrator(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "/sign-in/desk/" in run(monkeypatch)
    assert Person.objects.get(key="P-01").body["roles"] == ["administrator"]
    assert "Corin" not in Event.objects.get().body
    client = Client()
    assert client.post("/sign-in/desk/", {"name": "P-01", "password": PASSWORD}).status_code == 302
    assert client.get("/setup/person/").status_code == 200


@pytest.mark.django_db
def test_only_once_and_never_by_halves(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(CommandError):
        run(monkeypatch, "short")
    assert not Event.objects.exists() and not Account.objects.exists()
    run(monkeypatch)
    with pytest.raises(CommandError, match="Somebody can sign in already"):
        run(monkeypatch)
