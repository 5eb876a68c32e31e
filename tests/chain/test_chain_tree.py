"""The hash tree against RFC 9162, the published roots, and the published proofs, good and spoiled."""

import base64
import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trace import chain

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "merkle.json").read_text())
LEAVES = [bytes.fromhex(leaf) for leaf in VECTORS["leaves_hex"]]


def reference_root(leaves: list[bytes]) -> bytes:
    """RFC 9162, 2.1.1, written down as the definition reads."""
    if not leaves:
        return hashlib.sha256(b"").digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return hashlib.sha256(b"\x01" + reference_root(leaves[:k]) + reference_root(leaves[k:])).digest()


def unpacked(case: dict[str, Any], *names: str) -> list[bytes]:
    return [base64.b64decode(case[name] or "") for name in names]


def proof_of(case: dict[str, Any]) -> list[bytes]:
    return [base64.b64decode(step) for step in case["proof"] or []]


@pytest.mark.parametrize(("size", "root"), VECTORS["roots"].items())
@pytest.mark.outside("published", "RFC 9162; published proofs, named in tests/vectors")
def test_published_roots(size: str, root: str) -> None:
    assert chain.tree_root(LEAVES[: int(size)]).hex() == root


@pytest.mark.parametrize("size", range(68))
def test_roots_follow_the_definition(size: int) -> None:
    leaves = [bytes([n]) * n for n in range(size)]
    assert chain.tree_root(leaves) == reference_root(leaves)


@pytest.mark.parametrize("case", VECTORS["inclusion"], ids=lambda case: case["case"])
@pytest.mark.outside("published", "RFC 9162; published proofs, named in tests/vectors")
def test_published_inclusion_cases(case: dict[str, Any]) -> None:
    root, leaf = unpacked(case, "root", "leafHash")
    verdict = chain.verify_inclusion(leaf, case["leafIdx"], case["treeSize"], proof_of(case), root)
    assert verdict is not case["wantErr"]


@pytest.mark.parametrize("case", VECTORS["consistency"], ids=lambda case: case["case"])
@pytest.mark.outside("published", "RFC 9162; published proofs, named in tests/vectors")
def test_published_consistency_cases(case: dict[str, Any]) -> None:
    first, second = unpacked(case, "root1", "root2")
    verdict = chain.verify_consistency(case["size1"], case["size2"], first, second, proof_of(case))
    assert verdict is not case["wantErr"]


def test_published_proofs_are_those_made_here() -> None:
    cases = {case["case"]: case for case in (*VECTORS["inclusion"], *VECTORS["consistency"])}
    assert chain.inclusion_proof(LEAVES, 5) == proof_of(cases["inclusion/2/happy-path"])
    assert chain.consistency_proof(LEAVES, 6) == proof_of(cases["consistency/2/happy-path"])
    assert chain.consistency_proof(LEAVES[:7], 6) == proof_of(cases["consistency/4/happy-path"])


@pytest.mark.parametrize("size", range(1, 34))
def test_every_proof_of_small_trees_verifies_and_no_other_place_does(size: int) -> None:
    leaves = [n.to_bytes(2) for n in range(size)]
    root = chain.tree_root(leaves)
    for i, leaf in enumerate(leaves):
        proof = chain.inclusion_proof(leaves, i)
        for place in range(size):
            assert chain.verify_inclusion(chain.leaf_hash(leaf), place, size, proof, root) is (place == i)
    for m in range(1, size + 1):
        proof = chain.consistency_proof(leaves, m)
        assert chain.verify_consistency(m, size, chain.tree_root(leaves[:m]), root, proof)


@settings(max_examples=200)
@given(st.lists(st.binary(max_size=8), min_size=2, max_size=40), st.data())
def test_a_changed_leaf_or_proof_is_noticed(leaves: list[bytes], data: st.DataObject) -> None:
    i = data.draw(st.integers(0, len(leaves) - 1))
    root, proof = chain.tree_root(leaves), chain.inclusion_proof(leaves, i)
    assert not chain.verify_inclusion(chain.leaf_hash(leaves[i] + b"x"), i, len(leaves), proof, root)
    step, bit = data.draw(st.integers(0, len(proof) - 1)), data.draw(st.integers(0, 255))
    spoiled = int.from_bytes(proof[step]) ^ (1 << bit)
    proof[step] = spoiled.to_bytes(32)
    assert not chain.verify_inclusion(chain.leaf_hash(leaves[i]), i, len(leaves), proof, root)


def test_an_empty_root_or_earlier_tree_proves_nothing() -> None:
    root = chain.tree_root(LEAVES)
    assert not chain.verify_inclusion(b"", 0, 1, [], b"")
    assert not chain.verify_consistency(0, 8, chain.tree_root([]), root, [])
    assert not chain.verify_consistency(8, 8, root, root, [root])
    assert not chain.verify_inclusion(root, -1, 8, [], root)


def test_proofs_outside_the_tree_are_refused() -> None:
    with pytest.raises(IndexError):
        chain.inclusion_proof(LEAVES, 8)
    with pytest.raises(IndexError):
        chain.inclusion_proof(LEAVES, -1)
    with pytest.raises(IndexError):
        chain.consistency_proof(LEAVES, 0)
    with pytest.raises(IndexError):
        chain.consistency_proof(LEAVES, 9)
