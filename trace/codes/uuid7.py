"""Identifiers in order of time: UUID version 7 of RFC 9562."""

import secrets
import threading
import time
import uuid

_RANDOM_BITS = 74  # rand_a (12) and rand_b (62)
_STEP_BITS = 32
_LATEST_MS = (1 << 48) - 1
_lock = threading.Lock()
_last = 0


def uuid7(now_ms: int | None = None) -> uuid.UUID:
    """Return a new UUID version 7 (RFC 9562, 5.7), greater than every earlier one of this process.

    `now_ms` stands in for the clock (Unix milliseconds). When it is not later than the identifier given last,
    as after a clock was set back, the last one is counted on by a random step (RFC 9562, 6.2, method 2): the
    identifier then carries a later time than `now_ms`. Several threads may call it at once. Raises ValueError
    when the time does not fit 48 bits.
    """
    global _last  # noqa: PLW0603  the order holds for the whole process
    ms = time.time_ns() // 1_000_000 if now_ms is None else now_ms
    if not 0 <= ms <= _LATEST_MS:
        raise ValueError(f"{ms} ms does not fit the 48-bit time of a UUID version 7.")
    # The highest random bit starts at 0, so that counting on does not reach the next millisecond early.
    fresh = ms << _RANDOM_BITS | secrets.randbits(_RANDOM_BITS - 1)
    step = 1 + secrets.randbits(_STEP_BITS)
    with _lock:
        value = _last = max(fresh, _last + step)
    return _from_parts(value)


def uuid7_time_ms(u: uuid.UUID) -> int:
    """Return the Unix milliseconds a UUID version 7 carries. Raises ValueError for another version."""
    if u.variant != uuid.RFC_4122 or u.version != 7:
        raise ValueError(f"{u} is not a UUID version 7.")
    return u.int >> 80


def _from_parts(value: int) -> uuid.UUID:
    """Spread 48 bits of time and 74 random bits over the UUID, around version 7 and variant 0b10."""
    high, rand_b = value >> 62, value & ((1 << 62) - 1)
    ms, rand_a = high >> 12, high & 0xFFF
    return uuid.UUID(int=ms << 80 | 0x7 << 76 | rand_a << 64 | 0b10 << 62 | rand_b)
