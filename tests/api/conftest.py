"""The told story of the desk's tests, asked over the interface for other systems."""

from tests.pages.conftest import signed_in, story, story_database

__all__ = ["signed_in", "story", "story_database"]
