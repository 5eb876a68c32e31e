"""The made-up plant with all its tables: every block is the first again, later, and made of the one before."""

import pytest
from pytest_django import DjangoDbBlocker

from tests.cast import rows_of
from tests.databases import Database
from trace.genealogy.wide import how_far
from trace.measure import whole


def test_blocks_are_alike_and_go_on_into_each_other(
    fresh_database: Database, monkeypatch: pytest.MonkeyPatch, django_db_blocker: DjangoDbBlocker
) -> None:
    monkeypatch.setattr(whole, "BLOCK", 600)
    said = list(whole.fill(fresh_database.url("postgres"), 1_800, seed=1))
    assert said[2].startswith("1800 hulls")
    # What was filled without its indexes has all of them again, and its guards are awake.
    ((unready, asleep),) = rows_of(
        "SELECT (SELECT count(*) FROM pg_index WHERE NOT (indisvalid AND indisready)),"
        " (SELECT count(*) FROM pg_trigger WHERE tgenabled = 'D')"
    )
    assert (unready, asleep) == (0, 0)
    ((units, edges),) = rows_of(
        "SELECT (SELECT count(*) FROM unit), (SELECT count(*) FROM edge WHERE id <= 2000000000)"
    )
    assert units % 3 == 0 and edges % 3 == 0
    ((states, carriers, contents),) = rows_of(
        "SELECT (SELECT count(*) FROM unit_state), (SELECT count(*) FROM carrier_state),"
        " (SELECT count(*) FROM unit WHERE kind = 'content')"
    )
    assert states == units and carriers == contents
    first = units // 3
    ((lot,),) = rows_of("SELECT min(id) FROM unit WHERE kind = 'lot'")
    ((beyond,),) = rows_of("SELECT count(*) FROM unit WHERE kind = 'regrind' AND id <= %s", first)
    assert beyond > 0
    # What an early lot came into goes on through the blocks that follow.
    assert max(how_far([lot]).hulls) > 2 * first
    ((wrong,),) = rows_of(
        "SELECT count(*) FROM edge e JOIN unit c ON c.id = e.child JOIN unit p ON p.id = e.parent"
        " WHERE (c.id - 1) / %s < (p.id - 1) / %s", first, first
    )  # fmt: skip
    assert wrong == 0
