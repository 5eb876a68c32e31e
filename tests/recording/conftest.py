"""The cast for tests of recording."""

from tests.cast import cast, fresh_database, told, told_once, told_shared

__all__ = ["cast", "fresh_database", "told", "told_once", "told_shared"]
