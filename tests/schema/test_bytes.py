"""The check that event bytes hold no names and no free text finds them wherever they hide."""

import base64
import hashlib
import json

import pytest

from tests.schema.bytes import assert_bytes_hold_no_words
from tests.schema.facts import body
from trace.chain import canonical, digest

NAME = "Iva Horák"
SALT = b"0123456789abcdef"


def test_a_salted_digest_and_codes_pass() -> None:
    assert_bytes_hold_no_words(body(person="P-014", why=digest(SALT, NAME)), [NAME, "cracked at the bow"])
    # "Iva" stands in a longer word only.
    assert_bytes_hold_no_words(body(station="RIVAL-1"), ["Iva"])


@pytest.mark.parametrize(
    "changes",
    [
        {"why": f"asked by {NAME}"},
        {"why": "IVA  HORÁK"},
        {"person": "Iva Hora\u0301k"},
        {"rows": {"touches": [{"unit": "u", "role": NAME}]}},
        {"rows": {NAME: 1}},
        {"rows": {"things": [{"body": canonical({"name": NAME})}]}},
        {"why": base64.b64encode(NAME.encode()).decode()},
        {"why": NAME.encode().hex().upper()},
        {"why": hashlib.sha256(NAME.encode()).hexdigest()},
    ],
    ids=["value", "case", "form", "row", "key", "body in a body", "base64", "hex", "digest without salt"],
)
def test_a_name_is_found(changes: dict[str, object]) -> None:
    with pytest.raises(AssertionError, match="in the bytes"):
        assert_bytes_hold_no_words(body(**changes), ["cracked", NAME])


def test_bytes_in_another_form_are_refused() -> None:
    with pytest.raises(AssertionError, match="RFC 8785"):
        assert_bytes_hold_no_words(json.dumps(json.loads(body())), [NAME])
