"""UUID version 7 against the example of RFC 9562 and the promises about order."""

import json
import sys
import uuid
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trace.codes import uuid7, uuid7_time_ms

VECTOR = json.loads((Path(__file__).parents[1] / "vectors" / "uuid7.json").read_text())
MODULE: Any = sys.modules["trace.codes.uuid7"]  # the package exports the function under the module's name


@pytest.fixture(autouse=True)
def _fresh_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(MODULE, "_last", 0)


def test_example_of_the_rfc_is_read() -> None:
    assert uuid7_time_ms(uuid.UUID(VECTOR["uuid"])) == VECTOR["unix_ms"]


def test_example_of_the_rfc_is_made_from_its_parts() -> None:
    """RFC 9562, A.6: rand_a is CC3, rand_b 18C4DC0C0C07398F."""
    value = VECTOR["unix_ms"] << 74 | 0xCC3 << 62 | 0x18C4DC0C0C07398F
    assert str(MODULE._from_parts(value)) == VECTOR["uuid"]


@given(st.integers(0, 2**48 - 1))
def test_time_version_and_variant(ms: int) -> None:
    MODULE._last = 0
    u = uuid7(ms)
    assert (uuid7_time_ms(u), u.version, u.variant) == (ms, 7, uuid.RFC_4122)


@given(st.lists(st.integers(0, 2**47), min_size=2, max_size=50))
def test_identifiers_only_grow_whatever_the_clock_does(clock: list[int]) -> None:
    made = [uuid7(ms) for ms in clock]
    assert made == sorted(set(made))


def test_threads_get_different_identifiers_in_order() -> None:
    def draw(_: int) -> list[uuid.UUID]:
        return [uuid7() for _ in range(2000)]

    with ThreadPoolExecutor(8) as pool:
        batches = list(pool.map(draw, range(8)))
    assert all(batch == sorted(batch) for batch in batches)
    assert len({u for batch in batches for u in batch}) == 16_000


def test_other_versions_and_times_are_refused() -> None:
    with pytest.raises(ValueError, match="version 7"):
        uuid7_time_ms(uuid.uuid4())
    with pytest.raises(ValueError, match="48-bit"):
        uuid7(2**48)
