"""One history for all tests of the floor: a clone told once, and every test on it undone at its end."""

from collections.abc import Callable, Iterator

import pytest
from django.db import connections, transaction
from pytest_django import DjangoDbBlocker

from tests import databases
from tests.databases import Database
from tests.scan import cast
from tests.scan.browser import Screen
from tests.scan.cast import PIN, Plant
from trace.readmodels import plantdata

Told = tuple[Database, Plant]


@pytest.fixture(scope="session")
def told(
    django_db_setup: None,
    shared_database: Database,
    templates: tuple[Database, Database],
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[Told]:
    """The cast's database and what is in it."""
    with databases.cloned(templates[1]) as database, django_db_blocker.unblock():
        databases.point_django_at(database)
        plantdata.forget()
        plant = cast.tell()
        connections["default"].close()
        databases.point_django_at(shared_database)
        yield database, plant


@pytest.fixture
def plant(told: Told, shared_database: Database, django_db_blocker: DjangoDbBlocker) -> Iterator[Plant]:
    """The cast, as the app's role; what the test records is undone."""
    with django_db_blocker.unblock():
        databases.point_django_at(told[0])
        plantdata.forget()
        try:
            with transaction.atomic():
                yield told[1]
                transaction.set_rollback(True)
        finally:
            plantdata.forget()
            connections["default"].close()
            databases.point_django_at(shared_database)


Opens = Callable[..., Screen]


@pytest.fixture
def at(plant: Plant, settings: object, tmp_path: object) -> Opens:
    """at("weigh") or at("weigh", "P-03"): a screen with a person signed on, the station's page open."""
    settings.PHOTO_FOLDER = tmp_path  # type: ignore[attr-defined]
    people = {
        **dict.fromkeys(("goods-in", "count"), cast.STORES),
        **dict.fromkeys(("certificate", "release", "hold", "correct", "inspect"), cast.QUALITY),
        "release-hold": cast.DEPUTY,
        **dict.fromkeys(("pack", "rewrap", "rack", "dispatch"), cast.WAREHOUSE),
        **dict.fromkeys(("badges", "labels", "discrepancies", "opening"), cast.LEAD),
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
