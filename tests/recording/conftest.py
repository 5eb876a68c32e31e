"""The cast for tests of recording."""

import pytest

from tests.cast import cast, fresh_database, told, told_once, told_shared
from trace.recording import record

__all__ = ["cast", "fresh_database", "told", "told_once", "told_shared"]


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """A scan that meets others is tried for long: how busy the machine is says nothing about the product."""
    monkeypatch.setattr(record, "TRY_AGAIN_SECONDS", 300.0)
