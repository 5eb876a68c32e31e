"""A check for every test that records something personal: the sealed bytes hold none of these words."""

import base64
import hashlib
import json
import re
import unicodedata
from collections.abc import Iterable, Iterator

from trace.chain import canonical


def assert_bytes_hold_no_words(body: str, words: Iterable[str]) -> None:
    """Fail when a name, a contact or a free text can be read in event bytes, or guessed from them.

    `body` is an event's text; each of `words` is looked for whole, in any case and spacing, in every key and
    value (those of texts that are JSON themselves too), and so are its base64, its hex, and its SHA-256
    without a salt, which a list of names would undo. The bytes must be canonical, so that nothing hides in
    their form.
    """
    assert canonical(json.loads(body)) == body, f"the bytes are not RFC 8785 text: {body[:200]}"
    texts = [_plain(text) for text in _texts(json.loads(body))]
    for word in words:
        assert word.strip(), "an empty word proves nothing"
        sought = re.compile(rf"(?<!\w){re.escape(_plain(word))}(?!\w)")
        for text in texts:
            assert not sought.search(text), f"{word!r} stands in the bytes: {text[:200]!r}"
        for code in _codes(word):
            assert code.casefold() not in body.casefold(), f"{word!r} can be guessed from {code!r} in the bytes"


def _texts(part: object) -> Iterator[str]:
    """Every text in a JSON value, keys too; a text that holds a JSON object or list gives its own as well."""
    if isinstance(part, str):
        yield part
        if part[:1] in {"{", "["}:
            try:
                yield from _texts(json.loads(part))
            except ValueError:
                return
    elif isinstance(part, dict):
        for key, value in part.items():
            yield key
            yield from _texts(value)
    elif isinstance(part, list):
        for value in part:
            yield from _texts(value)


def _plain(text: str) -> str:
    """Without case, without differences of form, one blank between words."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


def _codes(word: str) -> list[str]:
    data = word.strip().encode()
    return [base64.b64encode(data).decode().rstrip("="), data.hex(), hashlib.sha256(data).hexdigest()]
