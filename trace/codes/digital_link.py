"""GS1 Digital Link addresses: a supplier's label that is written as a web address."""

import re
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote, unquote_to_bytes

from trace.codes.errors import CodeError
from trace.codes.gs1 import ElementString, check_companions, check_value
from trace.codes.gs1_table import IDENTIFIERS, LINK_QUALIFIERS
from trace.codes.plain import printable

CANONICAL_STEM = "https://id.gs1.org"
LONGEST_TEXT = 2000
_NOW = "Scan the label again, or type its lot by hand."
_ADDRESS = re.compile(r"(https?|HTTPS?)://([A-Za-z0-9._~:@\[\]-]+)(/[^?#]*)(?:\?([^#]*))?(?:#.*)?")


@dataclass(frozen=True, slots=True)
class DigitalLink:
    """What a GS1 Digital Link address says; `stem` is all that stands before the primary key."""

    stem: str
    content: ElementString


def parse_digital_link(uri: str, today: date | None = None) -> DigitalLink:
    """Read an uncompressed GS1 Digital Link address (any host and stem, numeric identifiers only).

    The path ends in a primary key and its qualifiers in the fixed order; other identifiers stand in the
    query, where keys that are not numbers are ignored. Nothing is ever opened. Raises CodeError.
    """
    if len(uri) > LONGEST_TEXT:
        raise _refusal(uri, f"It has {len(uri)} characters.")
    found = _ADDRESS.fullmatch(uri.strip(" \t\r\n"))
    if not found:
        raise _refusal(
            uri, "It is not a web address with http or https, all small or all capitals, and a path."
        )
    scheme, host, path, query = found.groups()
    segments = path.split("/")[1:]
    start = _key_position(segments)
    if start is None:
        raise _refusal(uri, "Its path does not end in a GS1 key and a value.")
    pairs = [
        (code, _decoded(uri, value))
        for code, value in zip(segments[start::2], segments[start + 1 :: 2], strict=True)
    ]
    key, qualifiers = pairs[0][0], [code for code, _ in pairs[1:]]
    if not any(_in_order(qualifiers, order) for order in (*LINK_QUALIFIERS[key], ())):
        raise _refusal(
            uri, f"After ({key}) the parts {printable(', '.join(qualifiers), 40)} are unknown or out of order."
        )
    attributes = _attributes(uri, query or "", key)
    elements = (*pairs, *attributes)
    for code, value in elements:
        check_value(code, value, today)
    check_companions(elements)
    stem = "/".join([f"{scheme}://{host}", *segments[:start]])
    return DigitalLink(stem, ElementString(elements))


def build_digital_link(content: ElementString, stem: str = CANONICAL_STEM) -> str:
    """Return the address of `content` under `stem`: key, qualifiers in order, the rest as query.

    Raises CodeError when the content holds no primary key.
    """
    values = dict(content.elements)
    key = next((code for code, _ in content.elements if code in LINK_QUALIFIERS), None)
    if key is None:
        raise CodeError(
            "This label makes no address.", "It holds no GS1 key such as (01) or (00).", "Add one."
        )
    order = max(LINK_QUALIFIERS[key], key=lambda codes: sum(c in values for c in codes), default=())
    path = [key, *(code for code in order if code in values)]
    query = [code for code in values if code not in path]
    written = "".join(f"/{code}/{quote(values[code], safe='')}" for code in path)
    asked = "&".join(f"{code}={quote(values[code], safe='')}" for code in query)
    return f"{stem.rstrip('/')}{written}{'?' if asked else ''}{asked}"


def _key_position(segments: list[str]) -> int | None:
    """Where the primary key stands: the last one followed by whole pairs to the end of the path."""
    return next((at for at in range(len(segments) - 2, -1, -2) if segments[at] in LINK_QUALIFIERS), None)


def _in_order(qualifiers: list[str], order: tuple[str, ...]) -> bool:
    left = iter(order)
    return all(code in left for code in qualifiers)


def _attributes(uri: str, query: str, key: str) -> list[tuple[str, str]]:
    pairs = []
    path_only = {*LINK_QUALIFIERS, *(code for order in LINK_QUALIFIERS[key] for code in order)}
    for part in re.split("[&;]", query):
        name, _, value = part.partition("=")
        if not re.fullmatch("[0-9]+", name):
            continue
        if name not in IDENTIFIERS:
            raise _refusal(uri, f"“{printable(name, 12)}” in its query is no identifier known here.")
        if name in path_only:
            raise _refusal(uri, f"({name}) belongs into the path.")
        pairs.append((name, _decoded(uri, value.replace("+", " "))))
    return pairs


def _decoded(uri: str, value: str) -> str:
    if re.search("%(?![0-9A-Fa-f]{2})", value) or not value.isascii():
        raise _refusal(uri, "A value in it is not written with plain characters and %XX.")
    return unquote_to_bytes(value).decode("latin-1")


def _refusal(uri: str, why: str) -> CodeError:
    return CodeError(f"“{printable(uri)}” is not a GS1 Digital Link.", why, _NOW)
