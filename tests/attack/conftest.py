"""The floor's own history and screens (tests/scan/conftest.py) serve the attacks too."""

from tests.scan.conftest import at, plant, told, told_once

__all__ = ["at", "plant", "told", "told_once"]
