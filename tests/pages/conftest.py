"""One told history for all tests of the desk's pages: a clone of its own, rolled back after each test."""

from collections.abc import Callable, Iterator

import pytest
from django.test import Client
from pytest_django import DjangoDbBlocker

from plant.credentials import set_password
from plant.models import Person
from tests import databases
from tests.databases import Database
from tests.pages.story import Told
from tests.pages.story import told as tell
from tests.scan.conftest import plant, told, told_once

__all__ = ["plant", "signed_in", "story", "story_database", "told", "told_once"]
# One telling a run, also where tests/api takes these fixtures.
_told_story: list[tuple[Database, Told]] = []
PASSWORD = "lantern over slow water"


@pytest.fixture(scope="session")
def story_database(
    django_db_setup: None,
    shared_database: Database,
    templates: tuple[Database, Database],
    django_db_blocker: DjangoDbBlocker,
) -> tuple[Database, Told]:
    """A database in which the story was told once, with what was made in it. Dropped with the run's templates."""
    if not _told_story:
        database = databases.clone(templates[1], "story", lasting=True)
        with databases.pointed_at(database, shared_database, django_db_blocker):
            _told_story.append((database, tell()))
    return _told_story[0]


@pytest.fixture
def story(
    story_database: tuple[Database, Told], shared_database: Database, django_db_blocker: DjangoDbBlocker
) -> Iterator[Told]:
    """The told history; whatever the test records is rolled back."""
    database, history = story_database
    with databases.rolled_back(database, shared_database, django_db_blocker):
        yield history


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
