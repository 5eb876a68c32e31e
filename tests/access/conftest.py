"""The cast, a clock that can be moved, and the site with every address of the table of rights."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from tests import databases
from tests.access import cast
from tests.access.cast import Member
from tests.databases import Database


@pytest.fixture(autouse=True)
def whole_site(settings: object, tmp_path: object) -> Iterator[None]:
    """Every name in the table of rights has an address; visits are counted from nothing."""
    settings.ROOT_URLCONF = "tests.access.stand_in"  # type: ignore[attr-defined]
    settings.DATA_FOLDER = tmp_path  # type: ignore[attr-defined]
    yield


@pytest.fixture(scope="session")
def entered(
    django_db_setup: None,
    shared_database: Database,
    templates: tuple[Database, Database],
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[tuple[Database, dict[str, Member]]]:
    """A database into which the people came once."""
    with databases.cloned(templates[1], lasting=True) as database:
        with databases.pointed_at(database, shared_database, django_db_blocker):
            members = cast.whole_cast()
        yield database, members


@pytest.fixture
def people(
    entered: tuple[Database, dict[str, Member]], shared_database: Database, django_db_blocker: DjangoDbBlocker
) -> Iterator[dict[str, Member]]:
    """One person for each role; whatever the test does is rolled back."""
    with databases.rolled_back(entered[0], shared_database, django_db_blocker):
        yield entered[1]


@pytest.fixture
def new_client() -> Callable[..., Client]:
    """Makes browsers without any history; what a view raises comes back as an answer, as in the plant."""

    def make(**more: object) -> Client:
        return Client(raise_request_exception=False, **more)  # type: ignore[arg-type]

    return make


class Clock:
    """The time as the product sees it; it stands until it is moved."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now

    def on(self, **by: float) -> None:
        self.now += timedelta(**by)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """A clock that stands still at half past a minute, so that no minute ends by itself."""
    stands = Clock(timezone.now().replace(second=30, microsecond=0))
    monkeypatch.setattr(timezone, "now", stands)
    return stands
