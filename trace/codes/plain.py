"""Make any text fit to be shown on one line, or to be stored."""

import re

SHOWN_LIMIT = 80
STORED_LIMIT = 4096
_UNSTORABLE = re.compile("[\x00\ud800-\udfff]")


def printable(text: str, limit: int = SHOWN_LIMIT) -> str:
    """Return `text` as at most `limit` printable characters on one line.

    Control characters, bidirectional marks and other invisible characters become a middle dot, so that a
    reader sees that something stood there; a longer text ends in an ellipsis. Not HTML: templates escape it.
    """
    head = "".join(c if c.isprintable() else "·" for c in text[: limit + 1])
    return head if len(head) <= limit else head[: limit - 1] + "…"


def storable(text: str, limit: int = STORED_LIMIT) -> str:
    """Return at most `limit` characters with U+FFFD for NUL and lone surrogates, which PostgreSQL refuses."""
    return _UNSTORABLE.sub("\ufffd", text[:limit])
