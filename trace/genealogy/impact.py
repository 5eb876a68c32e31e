"""Impact tests by staircase: the drops on a specimen, how each series ended, what a failed one brings into doubt."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from trace.genealogy.live import LIVE, id_array, known_by, live
from trace.genealogy.prepared import fetch_rows

DROPPED, TAKEN_BACK = "impact dropped", "impact drop taken back"
REOPENED = "impact reopened"  # its end was taken back
PASSED, FAILED, UNDECIDED = "impact passed", "impact failed", "impact undecided"
# What takes something back, and the field that names it.
BACK = {TAKEN_BACK: "drop", REOPENED: "end"}
VERDICTS = {PASSED: "pass", FAILED: "fail", UNDECIDED: "undecided"}
FOREVER = "infinity"

TOLD = """
SELECT v.uid::text, x.role, x.unit, v.happened, COALESCE(v.person, ''), (v.body::jsonb->'says')::text,
  v.body::jsonb->'rows'->'readings'->0->>'value'
FROM event_unit x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
WHERE x.role IN ('impact dropped', 'impact drop taken back', 'impact passed', 'impact failed',
    'impact undecided', 'impact reopened')
  AND (%(every)s::boolean OR x.unit = ANY (%(units)s::bigint[]))
ORDER BY v.happened, v.id
"""
# The mouldings of which a unit is: itself, or those that it was cut or joined from.
MOULDINGS = f"""
WITH RECURSIVE up(unit) AS (
  SELECT %(unit)s::bigint
  UNION SELECT e.parent FROM up u JOIN edge e ON e.child = u.unit AND e.role IN ('bind', 'join', 'cut')
    AND NOT e.aside AND {LIVE})
SELECT m.id, v.happened, m.about->>'arm', m.about->>'product', m.about->>'recipe'
FROM up u JOIN unit m ON m.id = u.unit AND m.kind = 'moulding' JOIN event v ON v.id = m.event ORDER BY m.id
"""
# The powder lots behind the charges of mouldings.
LOTS = f"""
WITH RECURSIVE up(moulding, unit) AS (
  SELECT c.child, e.parent FROM edge c JOIN edge e ON e.child = c.parent AND e.role = 'charge' AND {live('e')}
   WHERE c.child = ANY (%(mouldings)s::bigint[]) AND c.role = 'cavity' AND {live('c')}
  UNION
  SELECT u.moulding, n.parent FROM up u, LATERAL (
    SELECT e.parent FROM edge e WHERE e.child = u.unit AND {live('e')} OFFSET 0) n)
SELECT DISTINCT u.moulding, l.id FROM up u JOIN unit l ON l.id = u.unit AND l.kind = 'lot'
"""
ALIKE = """
SELECT m.id, m.uid::text, v.happened FROM unit m JOIN event v ON v.id = m.event
WHERE m.kind = 'moulding' AND m.about->>'arm' = %(arm)s::text AND m.about->>'product' = %(product)s::text
  AND m.about->>'recipe' IS NOT DISTINCT FROM %(recipe)s::text
  AND v.happened > %(since)s::timestamptz AND v.happened < %(until)s::timestamptz
  AND NOT EXISTS (SELECT FROM hold h WHERE h.unit = m.id AND h.rule = %(rule)s::text
    AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id))
ORDER BY v.happened, m.id
"""


@dataclass(frozen=True, slots=True)
class Drop:
    """One drop of the dart: height in m and temperature in °C as typed; result: pass, ductile or brittle."""

    uid: str
    height: str
    result: str
    temperature: str
    dart: str
    happened: datetime
    person: str

    @property
    def failed(self) -> bool:
        return self.result != "pass"


@dataclass
class Series:
    """The drops on one specimen up to the record that ended them, and its mean. `verdict`: pass, fail or undecided, ""
    while it is open."""

    unit: int
    drops: list[Drop] = field(default_factory=list)
    uid: str = ""
    verdict: str = ""
    mean: str = ""
    ended: datetime | None = None
    person: str = ""


@dataclass(frozen=True, slots=True)
class Moulding:
    """What a test is of: the moulding, when it was made, its arm, product and recipe ("" where not known), its powder
    lots."""

    id: int
    made: datetime
    arm: str
    product: str
    recipe: str
    lots: frozenset[int]


def series(
    units: Collection[int] | None = None, as_known_on: datetime | None = None, without: str = ""
) -> Mapping[int, list[Series]]:  # fmt: skip
    """Every series on these units (None: on all) as known then, in the order of happening; the last may be open.
    without: an end (the uid of its record) that is being taken back."""
    values: dict[str, Any] = {"known": known_by(as_known_on), "every": units is None, "units": id_array(units or ())}
    rows = fetch_rows(TOLD, values)
    gone = {without, *(json.loads(row[5])[BACK[row[1]]] for row in rows if row[1] in BACK)}
    found: dict[int, list[Series]] = {}
    for uid, role, unit, at, who, text, mean in rows:
        if role in BACK or uid in gone:
            continue
        of = found.setdefault(unit, [])
        if not of or of[-1].verdict:
            of.append(Series(unit))
        says = json.loads(text)
        if role == DROPPED:
            of[-1].drops.append(
                Drop(uid, says["height"], says["result"], says["temperature"], says["dart"], at, who)
            )
        else:
            one = of[-1]
            one.uid, one.verdict, one.mean = uid, VERDICTS[role], mean or ""
            one.ended, one.person = at, who
    return found


def open_drops(unit: int) -> list[Drop]:
    """The drops on a specimen that no end has counted yet."""
    told = series([unit]).get(unit, [])
    return told[-1].drops if told and not told[-1].verdict else []


def mouldings_of(unit: int) -> list[Moulding]:
    """The mouldings that a hull, a part or a moulding is of, as all is known now."""
    rows = fetch_rows(MOULDINGS, {"unit": unit, "known": FOREVER})
    lots = lots_of([row[0] for row in rows])
    return [
        Moulding(id_, made, arm or "", product or "", recipe or "", lots.get(id_, frozenset()))
        for id_, made, arm, product, recipe in rows
    ]


def lots_of(mouldings: Collection[int]) -> Mapping[int, frozenset[int]]:
    found: dict[int, set[int]] = {}
    for moulding, lot in fetch_rows(LOTS, {"mouldings": id_array(mouldings)}):
        found.setdefault(moulding, set()).add(lot)
    return {moulding: frozenset(lots) for moulding, lots in found.items()}


def alike(some: frozenset[int], others: frozenset[int]) -> bool:
    """Whether two sets of lots are one set to a test: one is part of the other, since a vessel that is topped up only
    adds lots. Where the lots of one are not known, it may be."""
    return some <= others or others <= some


def doubted(of: Moulding, rule: str, without: str = "") -> list[str]:
    """The uids of mouldings of the same arm and recipe and of like lots, made between the last pass before this one and
    the first pass after it, itself too; without those that are on hold by this rule."""
    passes = [
        one for unit, told in series(without=without).items() if any(some.verdict == "pass" for some in told)
        for one in mouldings_of(unit) if (one.arm, one.product, one.recipe) == (of.arm, of.product, of.recipe)
    ]  # fmt: skip
    since, until = between(of, passes)
    values = {
        "arm": of.arm, "product": of.product, "recipe": of.recipe or None, "rule": rule,
        "since": since.isoformat() if since else "-infinity", "until": until.isoformat() if until else FOREVER,
    }  # fmt: skip
    rows = fetch_rows(ALIKE, values)
    lots = lots_of([id_ for id_, _uid, _made in rows])
    return [uid for id_, uid, _made in rows if alike(lots.get(id_, frozenset()), of.lots)]


def between(of: Moulding, passes: Sequence[Moulding]) -> tuple[datetime | None, datetime | None]:
    """When the last moulding of like lots that passed was made before this one, and the first after it."""
    made = [one.made for one in passes if one.id != of.id and alike(one.lots, of.lots)]
    return (
        max((one for one in made if one <= of.made), default=None),
        min((one for one in made if one > of.made), default=None),
    )
