"""The measuring processes start: each imports what it runs before Django is set up."""

import os
import subprocess
import sys

from tests.databases import ROOT


def test_its_processes_can_import_it() -> None:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", "import trace.measure.scan"],
        check=False, capture_output=True, text=True, cwd=ROOT, timeout=60,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
