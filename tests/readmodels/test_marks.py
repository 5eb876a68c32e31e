"""Marks of the units that were met, against a set of Python's own."""

from hypothesis import given
from hypothesis import strategies as st

from trace.readmodels.marks import STEP, Marks

IDS = st.integers(min_value=0, max_value=STEP * 8 * 3)


@given(st.lists(st.lists(IDS)), IDS)
def test_marks_are_a_set(parts: list[list[int]], other: int) -> None:
    marks, known = Marks(), set[int]()
    for part in parts:
        new = marks.add(part)
        assert sorted(new) == sorted(set(part) - known)
        known |= set(part)
    assert all(unit in marks for unit in known)
    near = {unit ^ 1 for unit in known} | {other}
    assert {unit for unit in near if unit in marks} == near & known
