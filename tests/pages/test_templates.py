"""Templates can be read: one element a line, no line that runs off the screen of whoever reviews it."""

import re
from pathlib import Path

import pytest

TEMPLATES = Path(__file__).resolve().parents[2] / "templates"
LONGEST = 160
# Words within a line: they stand in the line of what holds them.
WITHIN = frozenset({"a", "abbr", "b", "br", "i", "q", "s", "small", "span", "sub", "sup", "time"})
BEGINS = re.compile(r"<([a-zA-Z][a-zA-Z0-9]*)")
FILES = sorted({path.relative_to(TEMPLATES).as_posix() for path in TEMPLATES.rglob("*.html")})


def elements(line: str) -> list[str]:
    """The elements that begin on a line, but for words within it and what a comment names."""
    return [name for name in BEGINS.findall(re.sub(r"\{#.*?#\}", "", line)) if name.lower() not in WITHIN]


@pytest.mark.parametrize("file", FILES)
def test_one_element_a_line_and_no_line_too_long(file: str) -> None:
    lines = (TEMPLATES / file).read_text(encoding="utf-8").splitlines()
    found = [
        f"{file}:{n}: {line.strip()[:80]}"
        for n, line in enumerate(lines, 1)
        if len(line) > LONGEST or len(elements(line)) > 1
    ]
    assert found == []


def test_the_count_is_of_elements() -> None:
    assert elements("<p><small>x</small> <a href='y'>z</a></p>") == ["p"]
    assert elements("<tr><td>1</td><td>2</td></tr>") == ["tr", "td", "td"]
    assert elements("{# <p> is named <p> here #}<li>") == ["li"]
