"""Canonical text against the published cases of RFC 8785, and what a record may not hold."""

import hashlib
import hmac
import json
from decimal import Decimal
from pathlib import Path

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from trace.chain import canonical, digest

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "jcs.json").read_text())["documents"]


@pytest.mark.parametrize("name", ["arrays", "french"])
@pytest.mark.outside("published", "RFC 8785, published documents")
def test_published_documents(name: str) -> None:
    assert canonical(json.loads(VECTORS[name]["input"])) == VECTORS[name]["output"]


def test_published_document_with_floats_is_refused_and_its_rest_agrees() -> None:
    document = json.loads(VECTORS["values"]["input"])
    assert rfc8785.dumps(document).decode() == VECTORS["values"]["output"]
    with pytest.raises(ValueError, match=r"numbers\[0\] is a float"):
        canonical(document)
    del document["numbers"]
    numbers = '"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
    assert canonical(document) == VECTORS["values"]["output"].replace(numbers, "")


def test_keys_are_sorted_by_utf_16_units() -> None:
    """RFC 8785, 3.2.3: the sample of the section, whose order differs from that of code points."""
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    expected = ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
    assert list(json.loads(canonical(dict.fromkeys(keys, 0)))) == expected


@pytest.mark.parametrize(
    ("record", "says"),
    [
        ({"kg": 12.2}, "record.kg is a float"),
        ({"kg": float("nan")}, "is a float"),
        ({"kg": Decimal("12.20")}, "record.kg is a Decimal: write it as a string"),
        ({"n": 2**53}, "beyond"),
        ({"n": -(2**53)}, "beyond"),
        ({1: "a"}, "not text"),
        ({"a": b"x"}, "is a bytes"),
        ({"a": {1, 2}}, "is a set"),
        (["a\x00"], "cannot be stored"),
        (["\ud800"], "cannot be stored"),
        ({"\ud800": 1}, "cannot be stored"),
    ],
)
def test_what_a_record_may_not_hold(record: object, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        canonical(record)


def test_bottomless_nesting_is_refused() -> None:
    deep: list[object] = []
    for _ in range(500):
        deep = [deep]
    with pytest.raises(ValueError, match="nested"):
        canonical(deep)


@pytest.mark.parametrize(("around", "passes"), [(100, True), (101, False)])
@pytest.mark.parametrize("inside", ["a", 1, None, {}, "é"])
def test_a_hundred_parts_in_one_another_are_the_most(around: int, passes: bool, inside: object) -> None:
    for _ in range(around):
        inside = [inside]
    if passes:
        assert canonical(inside).startswith("[" * around)
    else:
        with pytest.raises(ValueError, match="nested"):
            canonical(inside)


plain = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00")),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=8), inner, max_size=4
        )
    ),
    max_leaves=20,
)


@given(plain)
def test_canonical_text_is_json_and_stays_the_same_when_read_and_written_again(record: object) -> None:
    text = canonical(record)
    assert json.loads(text) == record
    assert canonical(json.loads(text)) == text


@pytest.mark.outside("library", "hmac and hashlib of the standard library, RFC 2104")
def test_digest_is_hmac_sha_256() -> None:
    """RFC 2104 by the standard library; the salt may come from the database as a memoryview."""
    salt, text = bytes(range(16)), "Ines Orrell"
    assert digest(salt, text) == hmac.new(salt, text.encode(), hashlib.sha256).hexdigest()
    assert digest(memoryview(salt), text) == digest(salt, text)
    assert digest(salt[::-1], text) != digest(salt, text)


@pytest.mark.outside("published", "RFC 4231, test case 6")
def test_digest_of_a_published_case() -> None:
    """RFC 4231, test case 6: a key of 131 bytes aa, which is hashed first."""
    published = "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54"
    assert digest(b"\xaa" * 131, "Test Using Larger Than Block-Size Key - Hash Key First") == published


def test_a_short_salt_is_refused() -> None:
    with pytest.raises(ValueError, match="16 bytes"):
        digest(b"short", "x")


def test_a_key_may_stand_as_deep_as_a_value() -> None:
    # A key beyond ASCII is looked at part by part; 99 objects around it are as many as a record may have.
    deep: dict[str, object] = {"\u00e9": 1}
    for _ in range(99):
        deep = {"a": deep}
    assert canonical(deep) == '{"a":' * 99 + '{"\u00e9":1}' + "}" * 99
    with pytest.raises(ValueError, match="nested too deeply"):
        canonical({"a": deep})
