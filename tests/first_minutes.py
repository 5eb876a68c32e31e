"""README's first ten minutes, and its afternoon with the season, as lists of things to do: README itself is what is
read and done.

In the numbered steps of such a section, in the order in which they stand there:

- `*Name*` opens a station or page by its title; *Sign on* begins a new session, *Find* is the desk's page;
- a text in backquotes is typed as a scanner does, with Enter;
- `<kbd>Name</kbd>` is pressed: a button, a link or a choice that reads so;
- `**words**` must stand on the page, blanks and line ends aside;
- what stands in ‹angle marks› the newcomer has seen on a page or been told: whoever walks it knows how to find it.

Everything else is prose. A caution is read wherever a page shows one first.
"""

import re
from collections.abc import Iterator
from pathlib import Path

from trace.scan.stations import STATIONS

README = Path(__file__).parents[1] / "README.md"
TOKEN = re.compile(
    r"\*\*(?P<says>.+?)\*\*|`(?P<type>[^`]+)`|<kbd>(?P<press>.+?)</kbd>|(?<!\*)\*(?P<open>[^*]+)\*(?!\*)"
)
TEN_MINUTES, AFTERNOON = "Your first ten minutes", "An afternoon with the season"
PAGES = {"Find": "/search/", "Cases": "/cases/"} | {str(one.title): f"/scan/{one.slug}/" for one in STATIONS.values()}


def steps(title: str = TEN_MINUTES) -> list[tuple[int, str, str]]:
    """(number of the step, what to do: says, type, press or open, with what) of the section with this title."""
    section = README.read_text().split(f"## {title}\n")[1].split("\n## ")[0]
    found = []
    for number, text in re.findall(r"^(\d+)\. (.+?)(?=^\d+\. |\n\n|\Z)", section, re.MULTILINE | re.DOTALL):
        for token in TOKEN.finditer(" ".join(text.split())):
            assert token.lastgroup is not None
            found.append((int(number), token.lastgroup, token[token.lastgroup]))
    return found


def wrong(words: str) -> Iterator[str]:
    """The same with a slip in one of its words, for each in turn."""
    every = words.split()
    for n, word in enumerate(every):
        slip = re.sub(r"\w", lambda sign: "8" if sign[0] == "3" else "3" if sign[0].isdigit() else "q", word, count=1)
        if slip != word:
            yield " ".join([*every[:n], slip, *every[n + 1 :]])


def walk(newcomer: object, title: str = TEN_MINUTES) -> None:
    """Every step in its turn, by the newcomer's way of doing it; what fails says which step it was."""
    steps_ = steps(title)
    assert {what for _, what, _ in steps_} == {"open", "type", "press", "says"}
    for number, what, text in steps_:
        try:
            getattr(newcomer, what)(text)
        except Exception as error:
            error.add_note(f"README, {title}, step {number}: {what} {text!r}")
            raise
