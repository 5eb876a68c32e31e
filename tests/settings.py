"""The product's settings as tests use them: its own database server, and a password hasher that is quick."""

import os
from pathlib import Path

from plant.env import private_url

# pytest itself has TEST_SERVER, the folder of a private PostgreSQL. A program that a test starts has not: it
# is given the one database it shall use (Database.environment in tests/databases.py).
TEST_SERVER = os.environ.get("TEST_SERVER", "")
if TEST_SERVER:
    os.environ.setdefault("DATA_FOLDER", str(Path(TEST_SERVER).parent))
    os.environ.pop("DATABASE_URL_FILE", None)
    os.environ["DATABASE_URL"] = private_url(Path(TEST_SERVER), "app")
elif not os.environ.get("DATABASE_URL"):
    raise SystemExit("TEST_SERVER is not set, so there is no database to test on: run deploy/test.")

from plant.settings import *  # noqa: E402, F403 - tests run on the product's settings, whatever they are

# Tests lose nothing when the power fails, so their server may skip the waits that protect records.
ALLOW_UNSAFE_SERVER = True
PASSWORD_HASHERS = ["tests.hashers.QuickArgon2PasswordHasher"]
# Static files straight from the tree: nothing is collected before a test.
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
STATIC_ROOT = DATA_FOLDER / "static-of-tests"  # noqa: F405
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
