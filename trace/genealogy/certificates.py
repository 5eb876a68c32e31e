"""What certificates say: the values of one name by lot, and the lots of which one lies in a range."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from trace.genealogy.causes import Within
from trace.genealogy.figures import readings


def certificates(name: str, as_known_on: datetime | None = None) -> Mapping[int, list[Decimal]]:
    """The values of this name by lot; lots of which none is on record are left out."""
    found: dict[int, list[Decimal]] = {}
    for one in readings(("certified",), as_known_on):
        values = [value for what, _zone, _uom, value in one.values if what == name]
        if values:
            found.setdefault(one.unit, []).extend(values)
    return found


def lots_within(cause: Within, read: Mapping[int, list[Decimal]]) -> list[int]:
    """The lots of which one of these values lies in the range of the cause."""
    return [lot for lot, values in read.items() if any(map(cause.takes, values))]
