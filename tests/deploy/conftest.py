"""Folders that the unprivileged user can reach, and a small project to start: pytest's own folders are closed
to others.
"""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from deploy import postgres
from deploy.accounts import as_account, unprivileged

ROOT = Path(__file__).resolve().parents[2]
Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def open_folder() -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix="lotwright-deploy-"))
    folder.chmod(0o755)
    yield folder
    for data in folder.rglob("PG_VERSION"):
        if data.parent.name == "data":
            postgres.stop(data.parent.parent)
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def tree(open_folder: Path) -> Path:
    """A copy of what deploy/demo needs before it has a .venv."""
    tree = open_folder / "tree"
    shutil.copytree(ROOT / "deploy", tree / "deploy", ignore=shutil.ignore_patterns("__pycache__", "js"))
    (tree / "plant").mkdir()
    for name in ("plant/__init__.py", "plant/env.py", "plant/settings.py", "manage.py"):
        shutil.copy(ROOT / name, tree / name)
    return tree


@pytest.fixture
def demo() -> Run:
    """Run deploy/demo of a tree to its end, as this user or as the unprivileged one."""

    def run(
        tree: Path, *words: str, drop: bool = False, **environment: str
    ) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(tree / "deploy" / "demo"), *words],
            check=False,
            capture_output=True,
            text=True,
            timeout=60,
            cwd="/",
            env={"PATH": os.environ["PATH"], **environment},
            **(as_account(unprivileged()) if drop else {}),
        )

    return run
