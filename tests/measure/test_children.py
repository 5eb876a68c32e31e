"""A process of a measurement begins with one import, before Django is set up."""

import subprocess
import sys

from tests.databases import ROOT, Database
from trace.measure.children import set_up


def test_it_is_imported_before_django_is_set_up(fresh_database: Database) -> None:
    words = f"from {set_up.__module__} import set_up; set_up(); import trace.measure.hold; print('up')"
    done = subprocess.run(
        [sys.executable, "-c", words], capture_output=True, text=True, check=False, cwd=ROOT,
        env=fresh_database.environment,
    )  # fmt: skip
    assert done.stdout.strip() == "up", done.stderr
