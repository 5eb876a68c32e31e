"""Every address of the site, found by walking its URL patterns, with an example for each."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from plant.access import RIGHTS, PerPart
from trace.codes import issue_label_code

# Parts of addresses for which "X" would not do, by URL name.
EXAMPLES: dict[str, dict[str, Any]] = {
    "short_address": {"code": issue_label_code(77)},
    "lot": {"code": issue_label_code(77)},
    "hull": {"serial": "GHM-T430-00001"},
    "complaint": {"number": 1},
    "complaint_photo": {"number": 1, "n": 1},
    "case": {"number": 1},
    "saved_scope": {"number": 1},
    "api_saved_scope": {"number": 1},
    "paper": {"number": 1},
    "api_paper": {"number": 1},
}
# Sent by devices that sign their requests; they carry no cookie, so no form can forge them.
WITHOUT_FORM_TOKEN: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Address:
    """One address as a person would type it; `parts` are the parts of it that vary."""

    name: str
    parts: tuple[tuple[str, Any], ...]
    path: str


def patterns(urlconf: str | None = None) -> Iterator[tuple[str, tuple[str, ...]]]:
    """(name, parts) of every pattern; the name is empty where the pattern has none."""
    yield from _walk(get_resolver(urlconf).url_patterns, "", ())


def _walk(
    entries: list[URLPattern | URLResolver], space: str, parts: tuple[str, ...]
) -> Iterator[tuple[str, tuple[str, ...]]]:
    for entry in entries:
        every = (*parts, *entry.pattern.regex.groupindex)
        if isinstance(entry, URLResolver):
            inner = f"{space}{entry.namespace}:" if entry.namespace else space
            yield from _walk(entry.url_patterns, inner, every)
        else:
            yield (f"{space}{entry.name}" if entry.name else "", every)


def addresses(urlconf: str | None = None) -> list[Address]:
    """An example of every address that has a row in the table of rights; of a station, one for each slug."""
    found = []
    for name, parts in patterns(urlconf):
        row = RIGHTS.get(name)
        examples = {part: EXAMPLES.get(name, {}).get(part, "X") for part in parts}
        varied = (
            [{**examples, row.part: value} for value in row.each] if isinstance(row, PerPart) else [examples]
        )
        if row is None:
            continue
        for kwargs in varied:
            path = reverse(name, urlconf, kwargs=kwargs)
            found.append(Address(name, tuple(kwargs.items()), path))
    return found
