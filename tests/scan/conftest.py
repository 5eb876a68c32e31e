"""One history for all tests of the floor: a clone told once, and every test on it undone at its end."""

from collections.abc import Callable, Iterator

import pytest
from pytest_django import DjangoDbBlocker

from tests import databases
from tests.databases import Database
from tests.scan import cast
from tests.scan.browser import Screen
from tests.scan.cast import PIN, Plant

Told = tuple[Database, Plant]


# One telling a run, however many folders take these fixtures.
_told: list[Told] = []
_told_shared: list[Database] = []


@pytest.fixture(scope="session")
def told_once(
    django_db_setup: None,
    shared_database: Database,
    templates: tuple[Database, Database],
    django_db_blocker: DjangoDbBlocker,
) -> Told:
    """The cast's database and what is in it; only cloned from here on. Dropped with the run's templates."""
    if not _told:
        database = databases.clone(templates[1], "floor")
        with databases.pointed_at(database, shared_database, django_db_blocker):
            _told.append((database, cast.tell()))
        _told_shared.append(databases.clone(database, "floor_shared", lasting=True))
    return _told[0]


@pytest.fixture(scope="session")
def told(told_once: Told) -> Told:
    """Another database with the same in it, for tests that roll back."""
    return _told_shared[0], told_once[1]


@pytest.fixture
def plant(told: Told, shared_database: Database, django_db_blocker: DjangoDbBlocker) -> Iterator[Plant]:
    """The cast, as the app's role; what the test records is undone."""
    with databases.rolled_back(told[0], shared_database, django_db_blocker):
        yield told[1]


Opens = Callable[..., Screen]


@pytest.fixture
def at(plant: Plant, settings: object, tmp_path: object) -> Opens:
    """at("weigh") or at("weigh", "P-03"): a screen with a person signed on, the station's page open."""
    settings.PHOTO_FOLDER = tmp_path  # type: ignore[attr-defined]
    people = {
        **dict.fromkeys(("goods-in", "count", "give-back", "stock-count"), cast.STORES),
        **dict.fromkeys(("certificate", "release", "hold", "correct", "inspect", "impact"), cast.QUALITY),
        **dict.fromkeys(("repairs", "sample"), cast.QUALITY),
        "release-hold": cast.DEPUTY,
        **dict.fromkeys(("pack", "rewrap", "rack", "dispatch", "containment", "returns"), cast.WAREHOUSE),
        **dict.fromkeys(("badges", "labels", "discrepancies", "opening", "handover", "first-off"), cast.LEAD),
    }

    def open_(slug: str, *keys: str, **query: str) -> Screen:
        screen = Screen()
        for key in keys or (people.get(slug, cast.OPERATOR),):
            screen.sign_on(plant[key], PIN)
        screen.read_cautions()
        page = screen.open(slug, **query)
        assert page.status == 200, page.said("main")
        return screen

    return open_
