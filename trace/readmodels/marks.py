"""A mark for each unit that was met, a bit each: millions of them in a megabyte or two."""

from collections.abc import Iterable

STEP = 4096


class Marks:
    """Ids of units, added and asked for."""

    def __init__(self) -> None:
        self._bits = bytearray()

    def __contains__(self, unit: int) -> bool:
        byte = unit >> 3
        return byte < len(self._bits) and bool(self._bits[byte] >> (unit & 7) & 1)

    def add(self, units: Iterable[int]) -> list[int]:
        """Mark these; those that were not marked before."""
        new = []
        for unit in units:
            byte, bit = unit >> 3, 1 << (unit & 7)
            if byte >= len(self._bits):
                self._bits.extend(bytes(byte + STEP - len(self._bits)))
            if not self._bits[byte] & bit:
                self._bits[byte] |= bit
                new.append(unit)
        return new
