"""The made-up plant with all its tables: every block is the first again, later, and made of the one before."""

import pytest
from pytest_django import DjangoDbBlocker

from tests.cast import rows_of
from tests.databases import Database
from trace.genealogy.wide import how_far
from trace.measure import whole
from trace.measure.scratch import guard_again, open_for_load


def test_blocks_are_alike_and_go_on_into_each_other(
    fresh_database: Database, monkeypatch: pytest.MonkeyPatch, django_db_blocker: DjangoDbBlocker
) -> None:
    monkeypatch.setattr(whole, "BLOCK", 600)
    with open_for_load(fresh_database.url("postgres")) as session:
        said = list(whole.fill(session, 1_800, seed=1))
        guard_again(session)
    assert said[-2].startswith("1800 hulls")
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
    assert max(how_far(lot).hulls) > 2 * first
    ((wrong,),) = rows_of(
        "SELECT count(*) FROM edge e JOIN unit c ON c.id = e.child JOIN unit p ON p.id = e.parent"
        " WHERE (c.id - 1) / %s < (p.id - 1) / %s", first, first
    )  # fmt: skip
    assert wrong == 0
