"""The number of records known on a day is the count of events, whether marks of the past are kept or not."""

from datetime import timedelta

import pytest
from django.db import connection

from tests.cast import Cast, rows_of
from trace.genealogy import tree_size
from trace.models import Job


@pytest.mark.parametrize("every", [1, 3, 7])
def test_with_marks_it_is_the_count(cast: Cast, monkeypatch: pytest.MonkeyPatch, every: int) -> None:
    monkeypatch.setattr(tree_size, "MARK", every)
    times = [when for (when,) in rows_of("SELECT recorded FROM event ORDER BY recorded")]
    asked = [when + off for when in times for off in (timedelta(0), timedelta(milliseconds=-1))]
    bare = [tree_size.tree_size(when) for when in asked]
    assert [size for _, size in bare] == [sum(t <= when for t in times) for when in asked]
    # Only what is settled is marked; what comes after is counted.
    set_ = tree_size.set_marks(times[len(times) // 2] + tree_size.SETTLED)
    assert set_ > 0
    assert tree_size.set_marks(times[len(times) // 2] + tree_size.SETTLED) == 0
    assert [tree_size.tree_size(when) for when in asked] == bare
    tree_size.set_marks(times[-1] + tree_size.SETTLED + timedelta(days=1))
    assert [tree_size.tree_size(when) for when in asked] == bare
    assert tree_size.tree_size() == (times[-1], len(times))


def test_it_waits_for_nothing_and_is_no_work_for_a_worker(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tree_size, "MARK", 5)
    (newest,) = rows_of("SELECT max(recorded) FROM event")[0]
    tree_size.set_marks(newest + timedelta(days=1))
    assert not Job.objects.exclude(state="done").exists()
    with connection.cursor() as cursor:
        cursor.execute("SELECT jsonb_array_length(args::jsonb) FROM job WHERE key = 'count events'")
        assert cursor.fetchone()[0] >= 2
