"""What is on record behind hulls, read for one scan: their acts, materials, figures and what is missing of them.

From it a cause (trace/genealogy/causes.py) is judged for these hulls alone, in plain Python, however many causes are
asked about. It never says cannot where trace/genealogy/sharing.py says otherwise: how much of a lot is in a hull, and
whether a gap could be of it, is not reckoned here, so that some hulls count as may which that calls cannot.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any

from trace.codes.plant_day import Calendar
from trace.genealogy.amounts import Verdict
from trace.genealogy.built import EARLIEST
from trace.genealogy.cause_words import (
    WEIGHED,
    WORDS,
    Certified,
    Charged,
    Fact,
    Figure,
    Owned,
    Thing,
    Took,
    Unchecked,
    Word,
)
from trace.genealogy.causes import (
    All,
    Cause,
    Holds,
    Made,
    Not,
    Simple,
    Some,
    Supplied,
    With,
    Within,
    all_of,
    opposite,
    some_of,
)
from trace.genealogy.charges import summed, verdict_of
from trace.genealogy.deeds import NO_ACT, NOT_DONE, OWN_ROLES, TOUCHED
from trace.genealogy.live import LIVE_NOW, id_array
from trace.genealogy.missing import NOT_OF_MATERIAL
from trace.genealogy.prepared import fetch_json
from trace.recording.floor.ground import Certified as SaidOfLots
from trace.recording.floor.ground import Ground, behind_ground, certified

# way: 2 where all of a unit goes on into the hull, 1 where a part does. Past what was ground it does not go: what was
# done to that was not done to this hull, and what lies behind it is kept (ground.py).
BEHIND = f"""
WITH RECURSIVE roots(k, u) AS (
  SELECT k, u FROM unnest(%(keys)s::bigint[], %(units)s::bigint[]) AS r(k, u)
  UNION SELECT id, id FROM unit WHERE uid = ANY (%(uids)s::uuid[])),
behind(key, unit, way) AS (
  SELECT k, u, 2 FROM roots
  UNION
  SELECT b.key, n.parent, LEAST(b.way, n.way) FROM behind b, LATERAL (
    SELECT e.parent,
      CASE WHEN e.role = ANY (%(own)s::text[]) THEN 2 ELSE 1 END AS way
      FROM edge e WHERE e.child = b.unit AND e.role <> 'regrind' AND {LIVE_NOW} OFFSET 0) n),
near AS MATERIALIZED (SELECT key, unit, max(way) AS way FROM behind GROUP BY key, unit),
acts AS MATERIALIZED (
  SELECT n.key, x.event, n.way, u.about->>'mould' AS mould FROM near n JOIN unit u ON u.id = n.unit
    JOIN event_unit x ON x.unit = n.unit AND {TOUCHED}
  UNION SELECT n.key, u.event, n.way, NULL FROM near n JOIN unit u ON u.id = n.unit
  UNION SELECT n.key, e.event, n.way, NULL FROM near n JOIN edge e ON e.child = n.unit AND {LIVE_NOW}),
cooks AS MATERIALIZED (
  SELECT DISTINCT n.key, v.id, v.kind, v.happened FROM near n
    JOIN event_unit x ON x.unit = n.unit AND x.role = 'cooked' JOIN event v ON v.id = x.event WHERE n.way = 2)
SELECT json_build_object(
  'hulls', (SELECT json_agg(json_build_array(u.id, u.uid, u.about, v.happened))
     FROM unit u JOIN event v ON v.id = u.event WHERE u.uid = ANY (%(uids)s::uuid[])),
  -- Of hulls: when their mouldings came out, and the holds on a scope that they were ever under.
  'made', (SELECT json_agg(json_build_array(k, x.first, x.last, x.n))
     FROM (SELECT DISTINCT k FROM roots) r JOIN unit u ON u.id = k AND u.kind = 'hull', LATERAL (
       SELECT min(v.happened) AS first, max(v.happened) AS last, count(*) AS n FROM edge e
         JOIN unit m ON m.id = e.parent JOIN event v ON v.id = m.event
        WHERE e.child = k AND e.role IN ('bind', 'join') AND {LIVE_NOW}) x),
  'rules', (SELECT json_agg(json_build_array(h.unit, h.rule)) FROM hold h
     WHERE h.unit IN (SELECT k FROM roots) AND h.rule LIKE 'scope %%'),
  'units', (SELECT json_agg(json_build_array(key, unit)) FROM near),
  'ground', (SELECT json_agg(json_build_array(key, unit)) FROM (SELECT DISTINCT n.key, n.unit FROM near n
     JOIN edge e ON e.child = n.unit AND e.role = 'regrind' AND {LIVE_NOW}) g),
  'lots', (SELECT json_agg(json_build_array(n.key, u.id, u.about->>'supplier', u.about->>'material'))
     FROM near n JOIN unit u ON u.id = n.unit AND u.kind = 'lot'),
  'deeds', (SELECT json_agg(json_build_array(a.key, r.kind, r.key, x.role, a.way)) FROM (
     SELECT DISTINCT key, event, way, mould FROM acts) a JOIN event_resource x ON x.event = a.event
     AND x.role <> ALL (%(no_act)s::text[]) JOIN resource r ON r.id = x.resource
     AND (r.kind <> 'mould' OR COALESCE(a.mould, r.key) = r.key)),
  'cooks', (SELECT json_agg(json_build_array(key, id, kind, happened) ORDER BY happened, id) FROM cooks),
  'readings', (SELECT json_agg(json_build_array(f.key, f.event, v.kind, d.quantity, d.zone, d.uom, d.value::text,
       f.lot))
     FROM (SELECT n.key, d.event, d.n, CASE WHEN u.kind = 'lot' THEN u.id END AS lot
             FROM near n JOIN unit u ON u.id = n.unit AND (n.way = 2 OR u.kind = 'lot')
             JOIN reading d ON d.unit = n.unit
           UNION SELECT k.key, d.event, d.n, NULL FROM cooks k JOIN reading d ON d.event = k.id AND d.unit IS NULL) f
     JOIN reading d ON d.event = f.event AND d.n = f.n JOIN event v ON v.id = f.event),
  'charges', (SELECT json_agg(json_build_array(n.key, e.layer, e.child, e.amount)) FROM near n
     JOIN edge e ON e.child = n.unit AND e.role = 'charge' AND {LIVE_NOW} WHERE n.way = 2),
  'gaps', (SELECT json_agg(json_build_array(key, what)) FROM (
     SELECT n.key, g.what FROM near n JOIN gap g ON g.unit = n.unit
     UNION SELECT n.key, 'before records' FROM near n JOIN unit u ON u.id = n.unit
      WHERE u.about->>'origin' = 'before records') m))::text
"""
SAME_MOMENT = timedelta(hours=1)


@dataclass
class Behind:
    """What is behind one hull. `about` is what it was made as; `first` and `last` when it left its mould.

    certificates: name of a value -> lot -> what its certificates say.
    """

    about: Mapping[str, Any]
    first: datetime
    last: datetime
    joined: bool = False
    units: set[int] = field(default_factory=set)
    lots: list[tuple[int, str, str]] = field(default_factory=list)
    # (kind, key) of a thing -> its role in acts -> whether one was on all of it: every cause that is judged looks here.
    deeds: dict[tuple[str, str], dict[str, bool]] = field(default_factory=dict)
    cooks: list[tuple[int, str, str]] = field(default_factory=list)
    readings: list[tuple[int, str, str, str, str, Decimal]] = field(default_factory=list)
    # Layer, load and mg of each charge.
    charges: list[tuple[str | None, int, int | None]] = field(default_factory=list)
    certificates: dict[str, dict[int, list[Decimal]]] = field(default_factory=dict)
    gaps: set[str] = field(default_factory=set)
    # The holds on a scope that were ever laid on it, ended or not.
    rules: set[str] = field(default_factory=set)
    # What lies behind powder of ground hulls that is in it.
    ground: list[Ground] = field(default_factory=list)
    _certified: dict[str, list[SaidOfLots]] = field(default_factory=dict)

    @cached_property
    def lacks_material(self) -> bool:
        return bool(self.gaps - NOT_OF_MATERIAL)

    def came_of(self, unit: int | None) -> bool:
        return unit is not None and (unit in self.units or any(one.holds(unit) for one in self.ground))

    def supplied_by(self, supplier: str) -> bool:
        own = any(lot[1] == supplier for lot in self.lots)
        return own or any(supplier in one.suppliers for one in self.ground)

    def certified(self, name: str) -> list[SaidOfLots]:
        """What the certificates of all its lots say of one value; asked once for each value."""
        if name not in self._certified:
            own = certified(self.lots, self.certificates, name)
            self._certified[name] = [own, *(one.certified(name) for one in self.ground)]
        return self._certified[name]


@dataclass(frozen=True, slots=True)
class Judge:
    """Judges causes by what is behind a hull. `roots`: the units that the codes of holds= stood for. `has_value`:
    whether a material should have a certificate's value of this name."""

    roots: Mapping[str, int]
    calendar: Calendar
    has_value: Callable[[str, str], bool]

    def verdict(self, cause: Cause, hull: Behind) -> Verdict:
        match cause:
            case Not(part):
                return opposite(self.verdict(part, hull))
            case All(parts):
                return all_of(self._until(parts, hull, "cannot"))
            case Some(parts):
                return some_of(self._until(parts, hull, "certain"))
            case _:
                return self._simple(cause, hull)

    def _until(self, parts: Iterable[Cause], hull: Behind, settled: Verdict) -> Iterator[Verdict]:
        """The verdicts of the parts, up to the one that settles it."""
        for part in parts:
            verdict = self.verdict(part, hull)
            yield verdict
            if verdict == settled:
                return

    def _simple(self, cause: Simple, hull: Behind) -> Verdict:
        match cause:
            case Holds(code):
                return "may" if hull.came_of(self.roots.get(code)) or hull.lacks_material else "cannot"
            case Supplied(supplier):
                there = hull.supplied_by(supplier)
                return "may" if there or hull.lacks_material else "cannot"
            case Made():
                return self._made(cause, hull)
            case Within(word):
                return self._certified(cause, hull) if isinstance(WORDS[word], Certified) else _within(cause, hull)
            case With():
                return self._named(cause, hull)

    def _made(self, cause: Made, hull: Behind) -> Verdict:
        days = self.calendar.day(hull.first), self.calendar.day(hull.last)
        if (cause.first and days[1] < cause.first) or (cause.last and days[0] > cause.last):
            return "cannot"
        inside = (not cause.first or days[0] >= cause.first) and (not cause.last or days[1] <= cause.last)
        return "certain" if inside else "may"

    def _certified(self, cause: Within, hull: Behind) -> Verdict:
        """A lot that should have such a value and has none on record may lie in the range."""
        said = hull.certified(cause.of)
        like = {material for one in said for material in one.read}
        unread = any(material in like or self.has_value(material, cause.of) for one in said for material in one.unread)
        inside = any(one.between(cause.low, cause.high) for one in said)
        return "may" if inside or unread or hull.lacks_material else "cannot"

    def _named(self, cause: With, hull: Behind) -> Verdict:
        word = WORDS[cause.word]
        if isinstance(word, Unchecked):
            # A check that is not made yet may still clear it: it is found when the question is asked again.
            return "cannot"
        if isinstance(word, Owned):
            # What passes the gate has no owner yet; of one that came back it is found when the question is asked again.
            return "cannot"
        if isinstance(word, Thing):
            return _with(word, cause.key, hull)
        if isinstance(word, Fact):
            return _as_made(word, cause.key, hull)
        shifts = {shift.name if (shift := self.calendar.shift(when)) else None for when in (hull.first, hull.last)}
        if hull.last - hull.first > SAME_MOMENT:
            return "may"
        return "cannot" if cause.key not in shifts else "certain" if len(shifts) == 1 else "may"


def _with(word: Thing, key: str, hull: Behind) -> Verdict:
    acts = hull.deeds.get((word.kind, key), {})
    whole = [all_of_it for role, all_of_it in acts.items() if not word.roles or role in word.roles]
    if any(whole):
        return "certain"
    lacks = hull.gaps if word.missing is None else hull.gaps & word.missing
    return "may" if whole or lacks else "cannot"


def _as_made(word: Fact, key: str, hull: Behind) -> Verdict:
    wanted = key.split("/", len(word.of) - 1)
    values = [str(hull.about.get(name) or "") for name in word.of]
    verdict = all_of(
        "may" if not value else "certain" if value == one else "cannot"
        for value, one in zip(values, wanted, strict=False)
    )
    return some_of(("may", verdict)) if word.own and hull.joined else verdict


def _within(cause: Within, hull: Behind) -> Verdict:
    word = WORDS[cause.word]
    if isinstance(word, Charged):
        return _charged(cause, hull)
    records = _minutes(word, hull) if isinstance(word, Took) else _read(word, cause.of, hull)
    if any(_inside(cause, value) for values in records for value in values):
        return "certain"
    rare = isinstance(word, Figure) and word.rare
    if rare:
        return "may" if hull.gaps & rare else "cannot"
    return "cannot" if records and all(records) else "may"


def _charged(cause: Within, hull: Behind) -> Verdict:
    """Where a record of what was weighed is missing, nobody looks here of which layer it is."""
    if hull.gaps & WEIGHED:
        return "may"
    own = [(load, mg if layer else None) for layer, load, mg in hull.charges if layer in (cause.of, None)]
    return verdict_of(cause, summed(own).values())


def _inside(cause: Within, value: Decimal) -> bool:
    return (cause.low is None or value >= cause.low) and (cause.high is None or value <= cause.high)


def _read(word: Word, of: str, hull: Behind) -> list[list[Decimal]]:
    assert isinstance(word, Figure)  # noqa: S101 - what is no reading is judged by itself
    quantity, zone = word.quantity or of, of if word.zone else ""
    by_event: dict[int, list[Decimal]] = {}
    if word.each:
        by_event = {event: [] for event, kind, _when in hull.cooks if kind in word.kinds}
    for event, kind, what, where, uom, value in hull.readings:
        if kind in word.kinds and what == quantity and uom == word.uom and zone in ("", where):
            by_event.setdefault(event, []).append(value)
    return list(by_event.values())


def _minutes(word: Took, hull: Behind) -> list[list[Decimal]]:
    begun: datetime | None = None
    found: list[list[Decimal]] = []
    for _event, kind, when in hull.cooks:
        at = datetime.fromisoformat(when)
        if kind == word.first:
            begun = at
            found.append([])
        elif kind == word.last and begun is not None:
            found[-1].append((Decimal(int((at - begun).total_seconds())) / 60).quantize(Decimal("0.1")))
            begun = None
        elif kind == word.last:
            found.append([])
    return found


def read_behind(hulls: Mapping[int, tuple[Behind, Collection[int]]]) -> dict[int, Behind]:
    """Fill in what is on record behind each hull: by key, with the units to begin at (itself, or its mouldings)."""
    roots = [(key, unit) for key, (_hull, units) in hulls.items() for unit in units]
    found = {key: hull for key, (hull, _units) in hulls.items()}
    return _taken(found, fetch_json(*_asked(roots, ())))


def behind_hulls(uids: Sequence[str]) -> tuple[str, dict[str, Any]]:
    """The statement that reads what is behind finished hulls, with its values; `hulls_in` takes what it finds."""
    return _asked((), uids)


def hulls_in(said: Mapping[str, Any]) -> dict[str, Behind]:
    """What is behind each hull, by its uid, out of what `behind_hulls` found."""
    rows = said["hulls"] or ()
    found = {key: Behind(about, (at := datetime.fromisoformat(made)), at) for key, _uid, about, made in rows}
    _taken(found, said)
    return {uid: found[key] for key, uid, *_more in rows}


def _asked(roots: Sequence[tuple[int, int]], uids: Sequence[str]) -> tuple[str, dict[str, Any]]:
    return BEHIND, {
        "keys": id_array(key for key, _ in roots), "units": id_array(unit for _, unit in roots), "uids": list(uids),
        "own": list(OWN_ROLES), "not_done": list(NOT_DONE), "no_act": list(NO_ACT),
    }  # fmt: skip


def _taken(found: dict[int, Behind], said: Mapping[str, Any]) -> dict[int, Behind]:
    for part, take in TAKEN.items():
        for key, *row in said[part] or ():
            take(found[key], *row)
    ground = said["ground"] or ()
    behind = behind_ground({filling for _key, filling in ground})
    for key, filling in ground:
        found[key].ground.append(behind[filling])
    return found


def _deed(hull: Behind, kind: str, name: str, role: str, way: int) -> None:
    acts = hull.deeds.setdefault((kind, name), {})
    acts[role] = acts.get(role, False) or way == 2


def _when(hull: Behind, first: str | None, last: str | None, count: int) -> None:
    """When a hull left its mould; one made before records began at any time until it was entered."""
    if first is None or last is None:
        hull.first = EARLIEST
    else:
        hull.first, hull.last, hull.joined = datetime.fromisoformat(first), datetime.fromisoformat(last), count > 1


def _reading(
    hull: Behind, event: int, kind: str, quantity: str, zone: str | None, uom: str, value: str, lot: int | None
) -> None:
    if lot is not None:
        hull.certificates.setdefault(quantity, {}).setdefault(lot, []).append(Decimal(value))
    else:
        hull.readings.append((event, kind, quantity, zone or "", uom, Decimal(value)))


# What each part of the statement says of a hull.
TAKEN: dict[str, Callable[..., None]] = {
    "made": _when,
    "rules": lambda hull, rule: hull.rules.add(rule),
    "units": lambda hull, unit: hull.units.add(unit),
    "lots": lambda hull, lot, supplier, material: hull.lots.append((lot, supplier or "", material or "")),
    "deeds": _deed,
    "cooks": lambda hull, event, kind, when: hull.cooks.append((event, kind, when)),
    "readings": _reading,
    "charges": lambda hull, layer, load, mg: hull.charges.append((layer, load, mg)),
    "gaps": lambda hull, what: hull.gaps.add(what),
}
