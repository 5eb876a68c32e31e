"""What lies behind powder of ground hulls, kept from scan to scan: it leads back through the whole plant.

Hulls that are ground go into others, which are ground in their turn: behind one tub of it can lie most of what a
plant ever made, and it is the same for every hull that it goes into. What scans add is never behind it, but for the
next hull that is ground into the same tub; what is put right may be. So each look first asks what has been added since.
"""

from array import array
from bisect import bisect_left
from collections import OrderedDict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from trace.genealogy.live import LIVE_NOW, id_array
from trace.genealogy.prepared import fetch_json, fetch_rows

MOST_KEPT = 16  # of 300,000 units each some three MB
MOST_NEW = 20_000  # where more was added, all is read again

BEHIND = f"""
WITH RECURSIVE behind(unit) AS (
  SELECT e.parent FROM edge e WHERE e.child = %(unit)s::bigint AND e.role = 'regrind' AND {LIVE_NOW}
  UNION
  SELECT n.parent FROM behind b, LATERAL (
    SELECT e.parent FROM edge e WHERE e.child = b.unit AND {LIVE_NOW} OFFSET 0) n)
SELECT json_build_object(
  'units', (SELECT COALESCE(json_agg(unit ORDER BY unit), '[]') FROM behind),
  'lots', (SELECT COALESCE(json_agg(json_build_array(u.id, u.about->>'supplier', u.about->>'material')), '[]')
     FROM unit u WHERE u.id = ANY (ARRAY(SELECT unit FROM behind)) AND u.kind = 'lot'))::text
"""
CERTIFICATES = "SELECT quantity, unit, value FROM reading WHERE unit = ANY (%(lots)s::bigint[])"
# Whoever changes what is older than his own scan holds the gate alone: his edges and withdrawals are newer than all
# that another scan has seen before.
SEEN = """
SELECT (SELECT COALESCE(max(id), 0) FROM edge), (SELECT COALESCE(max(event), 0) FROM edge_void),
  GREATEST(0, (SELECT max(id) FROM event WHERE kind = 'certified'),
    (SELECT max(id) FROM event WHERE kind = 'reading_corrected'))
"""
CHANGED = """
SELECT child FROM (
  SELECT e.child FROM edge e WHERE e.id > %(edge)s::bigint
  UNION ALL
  SELECT e.child FROM edge_void v JOIN edge e ON e.id = v.edge WHERE v.event > %(void)s::bigint) c
LIMIT %(most)s::int
"""


@dataclass(frozen=True, slots=True)
class Certified:
    """What the certificates of some lots say of one value. `values`: all, sorted; `read`, `unread`: the materials of
    the lots with one, and of those without."""

    values: tuple[Decimal, ...] = ()
    read: frozenset[str] = frozenset()
    unread: frozenset[str] = frozenset()

    def between(self, low: Decimal | None, high: Decimal | None) -> bool:
        """Whether a value lies there, the ends too."""
        at = 0 if low is None else bisect_left(self.values, low)
        return at < len(self.values) and (high is None or self.values[at] <= high)


Lot = tuple[int, str, str]  # id, supplier, material
Values = Mapping[str, Mapping[int, list[Decimal]]]  # name of a value -> lot -> what its certificates say


def certified(lots: Collection[Lot], values: Values, name: str) -> Certified:
    """What the certificates of these lots say of one value."""
    said = values.get(name, {})
    every = sorted(value for lot, *_ in lots for value in said.get(lot, ()))
    read = frozenset(material for lot, _supplier, material in lots if lot in said)
    unread = frozenset(material for lot, _supplier, material in lots if lot not in said)
    return Certified(tuple(every), read, unread)


@dataclass(frozen=True, slots=True)
class Ground:
    """What lies behind one filling of ground powder. `units`: sorted ids."""

    units: "array[int]"
    lots: tuple[Lot, ...]
    suppliers: frozenset[str]
    certificates: Values
    _certified: dict[str, Certified] = field(default_factory=dict)

    def holds(self, unit: int) -> bool:
        at = bisect_left(self.units, unit)
        return at < len(self.units) and self.units[at] == unit

    def certified(self, name: str) -> Certified:
        """Added up once for each value: there may be tens of thousands of lots."""
        if name not in self._certified:
            self._certified[name] = certified(self.lots, self.certificates, name)
        return self._certified[name]


@dataclass(frozen=True, slots=True)
class Seen:
    """How far the records had been written when what is kept was read: the newest edge, event that withdrew one, and
    event that said a certificate's value."""

    edge: int = 0
    void: int = 0
    read: int = 0


_kept: OrderedDict[int, Ground] = OrderedDict()
_seen = Seen()


def forget() -> None:
    """Drop what is kept: for tests that change the database under it."""
    global _seen  # noqa: PLW0603 - one for the process
    _kept.clear()
    _seen = Seen()


def behind_ground(fillings: Collection[int]) -> dict[int, Ground]:
    """What lies behind each of these fillings of ground powder, by its id."""
    if not fillings:
        return {}
    _look_again()
    for unit in fillings:
        if unit not in _kept:
            _kept[unit] = _read(unit)
        _kept.move_to_end(unit)
    found = {unit: _kept[unit] for unit in fillings}
    while len(_kept) > MOST_KEPT:
        _kept.popitem(last=False)
    return found


def _look_again() -> None:
    """Drop what is no longer so."""
    global _seen  # noqa: PLW0603
    now = Seen(*fetch_rows(SEEN, {})[0])
    if _kept and (now.edge, now.void) != (_seen.edge, _seen.void):
        values = {"edge": _seen.edge, "void": _seen.void, "most": MOST_NEW + 1}
        changed = [child for (child,) in fetch_rows(CHANGED, values)]
        for unit in [*_kept]:
            if len(changed) > MOST_NEW or any(child == unit or _kept[unit].holds(child) for child in changed):
                del _kept[unit]
    if now.read != _seen.read:
        for unit, ground in _kept.items():
            _kept[unit] = Ground(ground.units, ground.lots, ground.suppliers, _certificates(ground.lots))
    _seen = now


def _read(unit: int) -> Ground:
    said = fetch_json(BEHIND, {"unit": unit})
    lots = tuple((lot, supplier or "", material or "") for lot, supplier, material in said["lots"])
    return Ground(array("q", said["units"]), lots, frozenset(supplier for _, supplier, _ in lots), _certificates(lots))


def _certificates(lots: Collection[Lot]) -> Values:
    found: dict[str, dict[int, list[Decimal]]] = {}
    for quantity, lot, value in fetch_rows(CERTIFICATES, {"lots": id_array(lot for lot, *_ in lots)}):
        found.setdefault(quantity, {}).setdefault(lot, []).append(value)
    return found
