"""README.md and DEVELOPERS.md stay true: variables, commands, files and the top of the tree."""

import re
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()


def tracked() -> list[str]:
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, check=True, capture_output=True, text=True)
    return done.stdout.split("\n")


def variables() -> set[str]:
    found: set[str] = set()
    for file in (*ROOT.glob("plant/*.py"), *ROOT.glob("deploy/*.py"), *ROOT.glob("trace/measure/*.py")):
        text = file.read_text()
        found |= set(re.findall(r'\b(?:env_\w+|secret)\(\s*"([A-Z][A-Z_]+)"', text))
        found |= set(re.findall(r'environ(?:\.get\(|\[)"([A-Z][A-Z_]+)"', text))
        found |= set(re.findall(r'"((?:SEAL_|AUDIT_|MIGRATE_)?DATABASE_URL)"', text))
    # What every program on the machine has is not ours to explain.
    return found - {"PATH", "HOME", "PYTHONPATH", "DJANGO_SETTINGS_MODULE"}


def test_every_variable_that_is_read_stands_in_the_readme() -> None:
    missing = {name for name in variables() if f"`{name}`" not in README and not name.endswith("_FILE")}
    assert missing == set()


def test_every_variable_in_the_readme_is_read() -> None:
    told = set(re.findall(r"`([A-Z][A-Z_]{3,})`", README))
    assert told - variables() - {"NAME_FILE"} == set()


def test_every_command_in_the_readme_exists() -> None:
    commands = {p.stem for p in ROOT.glob("trace/management/commands/*.py")} | {"migrate", "collectstatic"}
    told = set(re.findall(r"manage\.py ([a-z_]+)", README + DEVELOPERS))
    assert told - commands - {"makemigrations"} == set()


def test_every_file_named_in_the_guides_exists() -> None:
    named = set(re.findall(r"`((?:plant|trace|tests|deploy|templates)/[\w./]+?)/?`", README + DEVELOPERS))
    named |= set(re.findall(r"\]\(([\w./-]+)\)", README))
    missing = {name for name in named if "…" not in name and not (ROOT / name).exists()}
    assert missing == set()


def test_the_top_level_is_what_the_design_asks_for() -> None:
    top = {Path(f).parts[0] for f in tracked() if f}
    assert top == {
        "README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml", "plant", "trace", "templates", "tests",
        "deploy", ".ci", ".gitignore",
    }  # fmt: skip


def test_the_job_stands_in_the_first_paragraph() -> None:
    first = README.split("\n\n")[1]
    assert first.startswith("A rotational moulder")


def test_no_lock_file_or_requirement_names_an_address() -> None:
    for name in tracked():
        if name.endswith((".txt", ".toml", ".json", ".in", ".cfg")) and (ROOT / name).exists():
            text = (ROOT / name).read_text()
            assert "--index-url" not in text
            assert '"resolved": "http' not in text
