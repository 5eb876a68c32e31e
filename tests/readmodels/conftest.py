"""The cast for tests of the read models."""

from tests.cast import cast, fresh_database, told, told_once, told_shared

__all__ = ["cast", "fresh_database", "told", "told_once", "told_shared"]
