"""Readings as causes: at or below, at or above one of a few values, chosen from all hulls and not from the bad ones."""

from collections.abc import Iterator, Mapping

import numpy as np

from trace.quality.factors import Factor

# (Quantity, unit) -> value by hull.
Values = dict[tuple[str, str], dict[int, float]]
# At these shares of all values (common practice); fewer where values repeat.
SHARES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)
# One value alone tells nothing apart.
LEAST_VALUES = 2


def cut(
    sort: str, values: Mapping[tuple[str, str], Mapping[int, float]], hulls: int
) -> Iterator[tuple[Factor, list[int], list[int]]]:
    """(Cause, who has it, who has no value and so may) for each value at which a quantity is cut, either way."""
    for (quantity, uom), of in sorted(values.items()):
        missing = [n for n in range(hulls) if n not in of]
        # What somebody read is said as it was read; a share worked out has no end.
        for text, has in _either_way(of, uom, 12 if sort else 4):
            yield Factor(sort, quantity, text), has, missing


def _either_way(of: Mapping[int, float], uom: str, digits: int) -> Iterator[tuple[str, list[int]]]:
    """At or below, and at or above, each value at which these are cut; what all of them are tells nothing apart."""
    seen = np.array(sorted(of.values()))
    if len(np.unique(seen)) < LEAST_VALUES:
        return
    for value in np.unique(np.quantile(seen, SHARES, method="closest_observation")):
        for sign, has in (
            ("≤", [n for n, one in of.items() if one <= value]), ("≥", [n for n, one in of.items() if one >= value]),
        ):  # fmt: skip
            if len(has) < len(of):
                yield f"{sign} {value:.{digits}g} {uom}".strip(), has
