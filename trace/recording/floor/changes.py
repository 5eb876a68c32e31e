"""What a late fact or a correction changes in carriers: collected by a command's handler, then replayed."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import connection

BEFORE = timedelta(microseconds=1)
# The position of a way out by which all went that was left, whatever the book says by now that this was.
ALL = "all"
# What a container is when nothing is left in it, where the last of it went this way; else it is used up.
GONE_AS = {"return": "given back"}


@dataclass(frozen=True)
class Took:
    """Something left a carrier for `child`. Amount in `uom`, None where nobody knows; carrier None: unknown."""

    carrier: str | None
    at: datetime
    child: str
    amount: int | None
    uom: str
    role: str
    layer: str | None = None
    position: str | None = None
    # The event that first said so, where this is said again.
    of: str | None = None
    # How far `at` may be off: whatever was in the carrier within that may have been it.
    unsure: timedelta = timedelta(0)
    # The unit that it is out of, where that is in no carrier: the lot of a delivery.
    parent: str | None = None


@dataclass(frozen=True)
class Put:
    """Something entered a carrier on top of what was in it, out of the carrier `source` (None: unknown). position: ALL
    where it was all that was in that, however much that proves to be."""

    carrier: str
    at: datetime
    source: str | None
    amount: int
    uom: str
    about: dict[str, Any]
    lot_no: str | None
    status: str
    unsure: timedelta = timedelta(0)
    position: str | None = None


@dataclass(frozen=True)
class Stood:
    """A charge already made was weighed into an empty tub."""

    carrier: str
    at: datetime
    charge: str


@dataclass(frozen=True)
class Emptied:
    """A carrier was emptied: tipped out, or (proved) looked into, so that what the book says is left is written off."""

    carrier: str
    at: datetime
    proved: bool


@dataclass(frozen=True)
class Counted:
    """Somebody counted what was in a carrier: `left`, whatever the book says."""

    carrier: str
    at: datetime
    left: int


@dataclass(frozen=True)
class Booked:
    """What a delivered container holds, where it was booked of another lot: words, lot number, and what it may be used
    as."""

    about: dict[str, Any]
    lot_no: str
    status: str


@dataclass
class Changes:
    """What is to be replayed, collected by a command's handler.

    filled_again, uncounted: emptyings and counts that never were, as (carrier, when, uid of the event that
    said so, "" where it was none of its own). moved: when what began a content really happened, booked: of which lot it
    is, each by the content's uid.
    """

    took: list[Took] = field(default_factory=list)
    put: list[Put] = field(default_factory=list)
    stood: list[Stood] = field(default_factory=list)
    emptied: list[Emptied] = field(default_factory=list)
    counted: list[Counted] = field(default_factory=list)
    withdrawn: list[dict[str, Any]] = field(default_factory=list)
    filled_again: list[tuple[str, datetime, str]] = field(default_factory=list)
    uncounted: list[tuple[str, datetime, str]] = field(default_factory=list)
    moved: dict[str, datetime] = field(default_factory=dict)
    booked: dict[str, Booked] = field(default_factory=dict)

    def __bool__(self) -> bool:
        told = self.took, self.put, self.stood, self.emptied, self.counted
        return any((*told, self.withdrawn, self.filled_again, self.uncounted))

    def starts(self) -> dict[str, datetime]:
        """The moment from which each carrier has to be gone through again."""
        moments: list[tuple[str | None, datetime]] = [
            (x.carrier, x.at) for xs in (self.put, self.stood, self.emptied, self.counted) for x in xs
        ]
        # Just before all that it may have been, where the time may be off.
        moments += [(t.carrier, t.at - t.unsure - BEFORE) for t in self.took]
        moments += [(p.source, p.at - p.unsure - BEFORE) for p in self.put]
        moments += [(e["carrier"], e["at"] - BEFORE) for e in self.withdrawn]
        # What enters a content that was there already changes that content, so begin just before it.
        children = {t.child for t in self.took} | {e["child"] for e in self.withdrawn}
        begun = content_of(children).items()
        moments += [(carrier, min(since, self.moved.get(unit, since)) - BEFORE) for unit, (carrier, since) in begun]
        moments += [(carrier, at - BEFORE) for carrier, at, _ in (*self.filled_again, *self.uncounted)]
        found: dict[str, datetime] = {}
        for carrier, at in moments:
            if carrier is not None:
                found[carrier] = min(at, found.get(carrier, at))
        return found


def content_of(uids: set[str]) -> dict[str, tuple[str, datetime]]:
    """Of these units those that stand in a carrier's log: unit uid -> (carrier uid, since when)."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT u.uid::text, c.uid::text, l.since FROM unit u JOIN carrier_log l ON l.content = u.id
                 JOIN carrier c ON c.id = l.carrier WHERE u.uid = ANY (%s::uuid[])""",
            [sorted(uids)],
        )
        return {unit: (carrier, since) for unit, carrier, since in cursor.fetchall()}
