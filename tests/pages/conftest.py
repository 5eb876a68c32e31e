"""One told history for all tests of the desk's pages: a clone of its own, rolled back after each test."""

from collections.abc import Callable, Iterator

import pytest
from django.db import connections, transaction
from django.test import Client
from pytest_django import DjangoDbBlocker

from plant.credentials import set_password
from plant.models import Person
from tests import databases
from tests.databases import Database
from tests.pages.story import Told, told
from trace.readmodels import plantdata

PASSWORD = "lantern over slow water"


@pytest.fixture(scope="session")
def story_database(
    django_db_setup: None, templates: tuple[Database, Database], django_db_blocker: DjangoDbBlocker
) -> Iterator[tuple[Database, Told]]:
    """A database in which the story was told once, with what was made in it."""
    with databases.cloned(templates[1]) as database, django_db_blocker.unblock():
        databases.point_django_at(database)
        plantdata.forget()
        history = told()
        connections.close_all()
        yield database, history


@pytest.fixture
def story(
    story_database: tuple[Database, Told], shared_database: Database, django_db_blocker: DjangoDbBlocker
) -> Iterator[Told]:
    """The told history; whatever the test records is rolled back."""
    database, history = story_database
    with django_db_blocker.unblock():
        connections.close_all()
        databases.point_django_at(database)
        plantdata.forget()
        try:
            with transaction.atomic():
                yield history
                transaction.set_rollback(True)
        finally:
            connections.close_all()
            plantdata.forget()
            databases.point_django_at(shared_database)


@pytest.fixture
def signed_in(story: Told) -> Callable[[str], Client]:
    """signed_in(KEY) -> a browser at the desk in which that person of the demo plant is signed on."""

    def sign_in(key: str) -> Client:
        set_password(Person.objects.get(key=key), PASSWORD)
        client = Client()
        answer = client.post("/sign-in/desk/", {"name": key, "password": PASSWORD})
        assert answer.status_code == 302, answer.content
        return client

    return sign_in
