"""The cast for tests of recording."""

import pytest

from tests.cast import cast, fresh_database, told, told_once, told_shared
from tests.conftest import AtOnce
from trace.recording import record

__all__ = ["cast", "fresh_database", "told", "told_once", "told_shared"]


@pytest.fixture
def at_once(at_once: AtOnce, monkeypatch: pytest.MonkeyPatch) -> AtOnce:
    """As the runner's, and a scan that meets others is tried for long: how busy the machine is says nothing about the
    product."""
    monkeypatch.setattr(record, "TRY_AGAIN_SECONDS", 300.0)
    return at_once
