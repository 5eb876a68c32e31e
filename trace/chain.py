"""Canonical bytes and hash trees: what proves that records stand as they were recorded (plain Python).

Canonical text is RFC 8785; the tree is the one of RFC 9162, section 2.1: leaf SHA-256(00 || data), node
SHA-256(01 || left || right), split at the largest power of two below the size, empty tree SHA-256("").
"""

import hashlib
import hmac
import json
import re
from collections.abc import Iterable, Sequence

import rfc8785

HASH_BYTES = 32
LEAST_SALT_BYTES = 16
_LARGEST_INT = 2**53 - 1
_SURROGATE = re.compile("[\ud800-\udfff]")


def canonical(obj: object) -> str:
    """Return the RFC 8785 text of `obj`: None, bool, int, str, list or tuple, and dict with text keys.

    Refuses with ValueError what cannot be told apart later: floats and Decimals (amounts travel as strings
    with fixed decimals), integers of 2^53 and more, other types, lone surrogates, and U+0000, which the
    database cannot hold.
    """
    if not _usual(obj, 0):
        _check(obj, "record", depth=0)
        if not _plain_keys(obj):
            return rfc8785.dumps(obj).decode()  # type: ignore[arg-type]  # _check has looked at every part
    # Without numbers but whole ones, and with keys of ASCII alone, the standard library writes the same text,
    # many times quicker: it also sorts by code unit then, and escapes the same characters.
    return json.dumps(obj, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def _usual(part: object, depth: int) -> bool:
    """True for what `_check` lets pass and all of whose keys are ASCII, seen at one glance: nearly every record. Of any
    other, `_check` says what is wrong and where, if anything is."""
    if depth > 100:
        return False
    if isinstance(part, str):
        return "\x00" not in part and (part.isascii() or _SURROGATE.search(part) is None)
    if isinstance(part, dict):
        return all(
            isinstance(key, str) and key.isascii() and "\x00" not in key and _usual(value, depth + 1)
            for key, value in part.items()
        )
    if isinstance(part, list | tuple):
        return all(_usual(value, depth + 1) for value in part)
    return part is None or (isinstance(part, int) and -_LARGEST_INT <= part <= _LARGEST_INT)


def _plain_keys(obj: object) -> bool:
    if isinstance(obj, dict):
        return all(key.isascii() for key in obj) and all(_plain_keys(part) for part in obj.values())
    return all(_plain_keys(part) for part in obj) if isinstance(obj, list | tuple) else True


def digest(salt: bytes | memoryview, text: str) -> str:
    """Return HMAC-SHA-256 (RFC 2104) of `text` (UTF-8) under `salt`, 64 hex digits.

    Names and free text never enter a sealed record; this stands for them there, and says nothing once salt
    and text are erased. `salt` is at least 16 random bytes, new for every text; ValueError if shorter.
    """
    key = bytes(salt)
    if len(key) < LEAST_SALT_BYTES:
        raise ValueError(f"A salt has at least {LEAST_SALT_BYTES} bytes, this one has {len(key)}.")
    return hmac.new(key, text.encode(), hashlib.sha256).hexdigest()


def leaf_hash(data: bytes) -> bytes:
    """Return the 32-byte hash of one leaf."""
    return hashlib.sha256(b"\x00" + data).digest()


def tree_root(leaves: Iterable[bytes]) -> bytes:
    """Return the 32-byte root over leaf data, in order."""
    return root_of_hashes(leaf_hash(data) for data in leaves)


def inclusion_proof(leaves: Sequence[bytes], i: int) -> list[bytes]:
    """Return the path from leaf `i` (from 0) to the root, lowest first. IndexError outside the tree."""
    return inclusion_path([leaf_hash(data) for data in leaves], i)


def consistency_proof(leaves: Sequence[bytes], m: int) -> list[bytes]:
    """Return the proof that the first `m` leaves begin the tree. IndexError unless 0 < m <= n."""
    return consistency_path([leaf_hash(data) for data in leaves], m)


def root_of_hashes(hashes: Iterable[bytes]) -> bytes:
    """Return the root over leaf hashes; reads them once and keeps one hash per level."""
    # (leaves under it, hash), sizes falling: the binary digits of the count
    peaks: list[tuple[int, bytes]] = []
    for leaf in hashes:
        size, node = 1, leaf
        while peaks and peaks[-1][0] == size:
            size, node = size * 2, _node(peaks.pop()[1], node)
        peaks.append((size, node))
    if not peaks:
        return hashlib.sha256(b"").digest()
    root = peaks.pop()[1]
    while peaks:
        root = _node(peaks.pop()[1], root)
    return root


def inclusion_path(hashes: Sequence[bytes], i: int) -> list[bytes]:
    """As `inclusion_proof`, from leaf hashes (RFC 9162, 2.1.3.1)."""
    if not 0 <= i < len(hashes):
        raise IndexError(f"There is no leaf {i} in a tree of {len(hashes)}.")
    path: list[bytes] = []
    while len(hashes) > 1:
        k = _split(len(hashes))
        left, right = hashes[:k], hashes[k:]
        other, hashes = (right, left) if i < k else (left, right)
        i = i if i < k else i - k
        path.append(root_of_hashes(other))
    return path[::-1]


def consistency_path(hashes: Sequence[bytes], m: int) -> list[bytes]:
    """As `consistency_proof`, from leaf hashes (RFC 9162, 2.1.4.1)."""
    if not 0 < m <= len(hashes):
        raise IndexError(f"There is no earlier tree of {m} leaves in a tree of {len(hashes)}.")
    path: list[bytes] = []
    known = True  # the verifier holds the root of exactly these leaves
    while m != len(hashes):
        k = _split(len(hashes))
        left, right = hashes[:k], hashes[k:]
        if m <= k:
            path.append(root_of_hashes(right))
            hashes = left
        else:
            path.append(root_of_hashes(left))
            hashes, m, known = right, m - k, False
    return ([] if known else [root_of_hashes(hashes)]) + path[::-1]


def verify_inclusion(leaf: bytes, i: int, n: int, proof: Sequence[bytes], root: bytes) -> bool:
    """Tell whether `proof` shows that leaf hash `leaf` is number `i` of the `n` leaves under `root`.

    RFC 9162, 2.1.3.2. Every hash must have 32 bytes, and the proof exactly the length the tree asks for.
    """
    if not 0 <= i < n or not _are_hashes(leaf, root, *proof):
        return False
    at, last, node = i, n - 1, leaf
    for step in proof:
        if last == 0:
            return False
        if at % 2 or at == last:
            node = _node(step, node)
            while at % 2 == 0 and at:
                at, last = at >> 1, last >> 1
        else:
            node = _node(node, step)
        at, last = at >> 1, last >> 1
    return last == 0 and hmac.compare_digest(node, root)


def verify_consistency(m: int, n: int, root_m: bytes, root_n: bytes, proof: Sequence[bytes]) -> bool:
    """Tell whether `proof` shows that the `m` leaves under `root_m` begin the `n` leaves under `root_n`.

    RFC 9162, 2.1.4.2. An empty earlier tree is refused: it would prove nothing. Equal sizes need equal roots
    and an empty proof.
    """
    if not 0 < m <= n or not _are_hashes(root_m, root_n, *proof):
        return False
    if m == n:
        return not proof and hmac.compare_digest(root_m, root_n)
    path = list(proof)
    if m & (m - 1) == 0:  # a whole subtree: its root is the verifier's own
        path.insert(0, root_m)
    roots = _roots_along(m, n, path) if path else None
    if roots is None:
        return False
    earlier, later = roots
    return hmac.compare_digest(earlier, root_m) and hmac.compare_digest(later, root_n)


def _roots_along(m: int, n: int, path: Sequence[bytes]) -> tuple[bytes, bytes] | None:
    """Both roots as a consistency path gives them, None where it is too long or too short for these sizes."""
    at, last = m - 1, n - 1
    while at % 2:
        at, last = at >> 1, last >> 1
    earlier = later = path[0]
    for step in path[1:]:
        if last == 0:
            return None
        if at % 2 or at == last:
            earlier, later = _node(step, earlier), _node(step, later)
            while at % 2 == 0 and at:
                at, last = at >> 1, last >> 1
        else:
            later = _node(later, step)
        at, last = at >> 1, last >> 1
    return (earlier, later) if last == 0 else None


def _node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def _split(n: int) -> int:
    """The largest power of two below `n` (n >= 2)."""
    return 1 << (n - 1).bit_length() - 1


def _are_hashes(*values: bytes) -> bool:
    return all(len(value) == HASH_BYTES for value in values)


def _check(part: object, where: str, depth: int) -> None:
    """Raise ValueError, naming the place, for what `canonical` refuses."""
    if depth > 100:
        raise ValueError(f"{where} is nested too deeply for a record.")
    if isinstance(part, dict):
        for key, value in part.items():
            if not isinstance(key, str):
                raise ValueError(f"{where} has the key {key!r}, which is not text.")
            _check(key, f"a key of {where}", depth + 1)
            _check(value, f"{where}.{key}", depth + 1)
    elif isinstance(part, list | tuple):
        for number, value in enumerate(part):
            _check(value, f"{where}[{number}]", depth + 1)
    else:
        _check_plain(part, where)


def _check_plain(part: object, where: str) -> None:
    """As _check, for what has no parts."""
    if part is None or isinstance(part, bool):
        return
    if isinstance(part, int):
        if abs(part) > _LARGEST_INT:
            raise ValueError(f"{where} is an integer beyond 2^53 - 1: write it as a string.")
    elif isinstance(part, str):
        if "\x00" in part or _SURROGATE.search(part):
            raise ValueError(f"{where} holds a character that cannot be stored (U+0000 or a lone surrogate).")
    else:
        raise ValueError(f"{where} is a {type(part).__name__}: write it as a string with fixed decimals.")
