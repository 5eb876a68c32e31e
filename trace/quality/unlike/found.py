"""Reads what the last days recorded and compares it: each find with what it is about, newest first."""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import connection

from trace.genealogy.live import live
from trace.quality.unlike import boxes, pace
from trace.quality.unlike.figures import last_digits, runs
from trace.readmodels.plantdata import Directory, newest
from trace.readmodels.rows import moment

DAYS = 14
# What can change any of it.
KINDS = (
    "weighed", "cook_started", "cook_stage", "cook_ended", "cooled", "bound", "inspected", "packed", "racked",
    "dispatched", "returned", "inserts_placed", "corrected", "reading_corrected", "defined",
)  # fmt: skip
NEWEST = "SELECT max(n) FROM unnest(%s::text[]) k, LATERAL (SELECT max(id) AS n FROM event WHERE kind = k) x"
# Told late they say little of how quick anybody was.
AT_ONCE = "e.recorded - e.happened < interval '10 minutes'"
SINCE = f"e.recorded > now() - interval '{DAYS} days'"
LOADED = "(SELECT min(k.cycle) FROM cook k WHERE k.unit = u.id)"
# A figure that the scale itself sent was not typed by anybody.
FIGURES = f"""
SELECT 'figure' AS what, e.happened AS at, e.id AS event, u.id AS unit, r.value::text AS said,
  json_build_array(r.quantity, coalesce(r.instrument, ''), coalesce(u.about->>'layer', ''),
    u.about->>'product')::text AS of,
  {LOADED}::text AS more
FROM event e JOIN reading r ON r.event = e.id JOIN unit u ON u.id = r.unit
WHERE {SINCE} AND e.kind IN ('weighed', 'cook_ended', 'cooled', 'bound', 'inspected')
  AND r.quantity IN ('gross', 'peak internal air', 'at demould', 'as moulded', 'hull mass')
  AND coalesce(u.about->>'how', '') <> 'read'
"""
ZONES = f"""
SELECT 'zones', e.happened, e.id, u.id, (e.body::jsonb->'says'->'thickness')::text, u.about->>'product', NULL
FROM event e JOIN event_unit x ON x.event = e.id AND x.role = 'inspected' JOIN unit u ON u.id = x.unit
WHERE {SINCE} AND e.kind = 'inspected'
"""
# A vessel may have an outlet at each scale; a box has one place.
CHARGES = f"""
SELECT 'charge', e.happened, e.id, u.id, d.parent::text, r.key, NULL
FROM event e JOIN unit u ON u.event = e.id AND u.kind = 'charge'
  JOIN event_resource s ON s.event = e.id AND s.role = 'scale' JOIN resource r ON r.id = s.resource
  LEFT JOIN (edge d JOIN unit b ON b.id = d.parent JOIN carrier c ON c.id = b.carrier AND c.kind = 'container')
    ON d.child = u.id AND d.role = 'draw' AND {live("d")}
WHERE {SINCE} AND e.kind = 'weighed' AND {AT_ONCE}
"""
STAGES = f"""
SELECT 'stage', e.happened, e.id, u.id, coalesce(e.body::jsonb->'says'->>'stage', 'end'), u.about->>'product', NULL
FROM event e JOIN event_unit x ON x.event = e.id AND x.role = 'cooked' JOIN unit u ON u.id = x.unit AND u.kind = 'load'
WHERE {SINCE} AND e.kind IN ('cook_stage', 'cook_ended')
UNION ALL
SELECT 'stage', e.happened, e.id, u.id, 'start', u.about->>'product', NULL
FROM event e JOIN cook k ON k.event = e.id JOIN unit u ON u.id = k.unit AND u.kind = 'load'
WHERE {SINCE} AND e.kind = 'cook_started'
"""
RACKED = f"""
SELECT 'racked', e.happened, e.id, u.id, r.key, u.kind, NULL
FROM event e JOIN event_unit x ON x.event = e.id AND x.role = 'placed' JOIN unit u ON u.id = x.unit
  JOIN event_resource s ON s.event = e.id AND s.role = 'place' JOIN resource r ON r.id = s.resource
WHERE {SINCE} AND e.kind = 'racked' AND {AT_ONCE} AND (u.kind = 'pack' OR u.kind = 'hull' AND NOT EXISTS (
  SELECT FROM event_unit y JOIN unit p ON p.id = y.unit AND p.kind = 'pack' WHERE y.event = e.id AND y.role = 'placed'))
"""
# As the records say now: what was put right stands under the event that did so, and belongs to the time of its load.
INSERTS = f"""
SELECT 'inserts', CASE WHEN e.kind = 'corrected' THEN r.happened ELSE e.happened END, e.id, d.parent, d.child::text,
  json_build_array(b.about->>'material', l.about->>'arm')::text, json_build_array(b.amount, s.balance)::text
FROM event e JOIN edge d ON d.event = e.id AND d.role = 'insert' AND {live("d")}
  JOIN unit b ON b.id = d.parent AND b.uom = 'pc' JOIN unit l ON l.id = d.child AND l.kind = 'load'
  JOIN event r ON r.id = l.event LEFT JOIN unit_state s ON s.unit = b.id
WHERE {SINCE} AND e.kind IN ('inserts_placed', 'corrected')
GROUP BY e.id, d.parent, d.child, b.id, l.id, s.unit, r.id
"""
PUT_AWAY = f"""
SELECT 'away', e.happened, e.id, u.id, NULL, NULL, NULL
FROM event e JOIN event_unit x ON x.event = e.id AND x.role = 'placed'
  JOIN unit u ON u.id = x.unit AND u.kind = 'content' AND u.uom = 'pc'
WHERE {SINCE} AND e.kind = 'racked'
"""
# Packed for an order before a truck for that order left, and here by the records.
LEFT = f"""
SELECT 'left', max(e.happened), max(e.id), p.id, NULL, c.about->>'order', NULL
FROM event e JOIN unit c ON c.event = e.id AND c.kind = 'consignment'
  JOIN unit p ON p.kind = 'pack' AND p.about->>'order' = c.about->>'order' JOIN event v ON v.id = p.event
  JOIN unit_state t ON t.unit = p.id AND t.status = 'packed'
WHERE {SINCE} AND e.kind = 'dispatched' AND v.happened < e.happened GROUP BY p.id, c.about->>'order'
"""
# Of each hull: when its moulding came out, when its plate was bound, and in which cycle it was cooked.
BOUND = f"""
SELECT 'bound', b.happened, b.id, h.id, d.happened::text, h.about->>'product',
  (SELECT min(k.cycle) FROM edge c JOIN cook k ON k.unit = c.parent WHERE c.child = m.id AND c.role = 'cavity')::text
FROM event b JOIN unit h ON h.event = b.id AND h.kind = 'hull'
  JOIN edge w ON w.child = h.id AND w.role = 'bind' AND {live("w")} JOIN unit m ON m.id = w.parent
  JOIN event d ON d.id = m.event
WHERE {SINCE.replace("e.", "b.")} AND b.kind = 'bound'
"""
EVERY = f"""SELECT COALESCE(json_agg(x ORDER BY at, event), '[]')::text
  FROM ({" UNION ALL ".join((FIGURES, ZONES, CHARGES, STAGES, RACKED, INSERTS, PUT_AWAY, LEFT, BOUND))}) x"""

(REPEATED, ENDINGS, ZONES_ALIKE, ONE_FIGURE, QUICK, TWO_SCALES, TWO_RACKS, OTHER_TIME, LEFT_HERE, LAY_TOGETHER,
 EXCHANGED) = (
    "repeated", "endings", "zones alike", "one figure", "quick", "two scales", "two racks", "other time", "left here",
    "lay together", "exchanged",
)  # fmt: skip
LEAST_ZONES = 4


@dataclass(frozen=True, slots=True)
class Find:
    """One thing that comparing showed. `units`: ids of what it is about; `said`: the words its sentence is made of."""

    kind: str
    since: datetime
    units: tuple[int, ...]
    said: Mapping[str, Any] = field(default_factory=dict)

    @property
    def key(self) -> str:
        return f"{self.kind} {self.since.isoformat()} {self.units[0] if self.units else ''}"


_kept: tuple[int | None, datetime | None, list[Find]] = (None, None, [])


def finds() -> list[Find]:
    """Newest first; read anew when something was recorded that it looks at, and once an hour, since days go by."""
    global _kept  # noqa: PLW0603 - one list per process, replaced whole
    with connection.cursor() as cursor:
        cursor.execute(NEWEST, [list(KINDS)])
        (last,) = cursor.fetchone()
        now = datetime.now().astimezone()
        if last is not None and _kept[0] == last and _kept[1] and now - _kept[1] < timedelta(hours=1):
            return _kept[2]
        cursor.execute(EVERY)
        rows: list[dict[str, Any]] = json.loads(cursor.fetchone()[0])
    for row in rows:
        row["at"] = moment(row["at"])
    _kept = last, now, sorted(compared(rows, newest()), key=lambda find: (find.since, find.key), reverse=True)
    return _kept[2]


def compared(rows: Iterable[Mapping[str, Any]], plant: Directory) -> Iterator[Find]:
    """What comparing these records shows."""
    by: dict[str, list[Mapping[str, Any]]] = {}
    for row in rows:
        by.setdefault(row["what"], []).append(row)
    yield from _of_figures(by.get("figure", []), plant)
    yield from _of_zones(by.get("zones", []))
    yield from _of_charges(by.get("charge", []))
    yield from _of_stages(by.get("stage", []))
    yield from _of_racks(by.get("racked", []), plant)
    yield from _of_bindings(by.get("bound", []))
    yield from _of_boxes(by.get("inserts", []), by.get("away", []), plant)
    for row in by.get("left", []):
        yield Find(LEFT_HERE, row["at"], (row["unit"],), {"order": row["of"]})


def _series(rows: Iterable[Mapping[str, Any]]) -> dict[str, list[Mapping[str, Any]]]:
    """The figures of each quantity, instrument, layer and product; what one arm's moulds have in common counts once."""
    found: dict[str, list[Mapping[str, Any]]] = {}
    for row in rows:
        series = found.setdefault(row["of"], [])
        last = series[-1] if series and row["more"] else {}
        if (last.get("more"), last.get("said")) != (row["more"], row["said"]):
            series.append(row)
    return found


def _of_figures(rows: Iterable[Mapping[str, Any]], plant: Directory) -> Iterator[Find]:
    for of, series in _series(rows).items():
        quantity, instrument, layer, product = json.loads(of)
        words = {"quantity": quantity, "instrument": instrument, "layer": layer, "product": product}
        figures = [f"{Decimal(row['said']).normalize():f}" for row in series]
        for run in runs(figures):
            those = series[run.first : run.first + run.length]
            said = {**words, "figure": figures[run.first], "count": run.length, "one_in": run.one_in}
            yield Find(REPEATED, those[-1]["at"], tuple(row["unit"] for row in those), said)
        step = plant.body("instrument", instrument).get("resolution") if instrument else None
        odd = last_digits(figures, float(step)) if step else None
        if odd:
            said = {**words, "count": odd.count, "often": odd.often, "chi_square": odd.chi_square}
            yield Find(ENDINGS, series[-1]["at"], tuple(row["unit"] for row in series[-6:]), said)


def _of_zones(rows: Iterable[Mapping[str, Any]]) -> Iterator[Find]:
    alike: dict[tuple[str, str], dict[int, Mapping[str, Any]]] = {}
    for row in rows:
        zones = json.loads(row["said"] or "{}")
        if len(zones) < LEAST_ZONES:
            continue
        same = json.dumps(sorted((zone, f"{Decimal(mm).normalize():f}") for zone, mm in zones.items()))
        alike.setdefault((row["of"], same), {})[row["unit"]] = row
    for (product, same), hulls in alike.items():
        figures = {mm for _zone, mm in json.loads(same)}
        last = max(row["at"] for row in hulls.values())
        words = {"product": product, "zones": len(json.loads(same)), "hulls": len(hulls)}
        if len(figures) == 1:
            yield Find(ONE_FIGURE, last, tuple(hulls), {**words, "figure": figures.pop()})
        elif len(hulls) > 1:
            yield Find(ZONES_ALIKE, last, tuple(hulls), words)


def _of_charges(rows: list[Mapping[str, Any]]) -> Iterator[Find]:
    scales: dict[str, dict[int, pace.Done]] = {}
    boxes: dict[str, dict[int, pace.Done]] = {}
    for row in rows:
        done = pace.Done(row["at"], row["unit"], row["of"])
        scales.setdefault(row["of"], {})[row["unit"]] = done
        if row["said"]:
            boxes.setdefault(row["said"], {})[row["unit"]] = done
    for scale, work in scales.items():
        for stretch in pace.too_quick(list(work.values())):
            seconds = int((stretch[-1].at - stretch[0].at).total_seconds())
            said = {"scale": scale, "count": len(stretch), "seconds": seconds}
            yield Find(QUICK, stretch[-1].at, tuple(done.unit for done in stretch), said)
    for box, work in boxes.items():
        draws = list(work.values())
        pairs = pace.in_two_places(draws, pace.LEAST_BETWEEN_SCALES) or pace.to_and_fro(draws)
        if pairs:
            one, other = pairs[-1]
            seconds = int((other.at - one.at).total_seconds())
            said = {"scales": sorted({done.where for done in draws}), "seconds": seconds}
            yield Find(TWO_SCALES, other.at, (int(box), one.unit, other.unit), said)


def _of_stages(rows: list[Mapping[str, Any]]) -> Iterator[Find]:
    recipes: dict[str, dict[int, list[tuple[str, datetime]]]] = {}
    for row in rows:
        recipes.setdefault(row["of"], {}).setdefault(row["unit"], []).append((row["said"], row["at"]))
    for product, cooks in recipes.items():
        whole = {unit: stages for unit, stages in cooks.items() if stages[0][0] == "start" and stages[-1][0] == "end"}
        # A stop that was said explains itself, and holds what it was.
        told = {unit: stages for unit, stages in whole.items() if "stopped" not in dict(stages)}
        for one in pace.unlike_stages(told):
            said = {"product": product, "stage": one.name, "minutes": one.minutes, "usual": one.usual}
            yield Find(OTHER_TIME, one.at, (one.unit,), said)


def _of_racks(rows: list[Mapping[str, Any]], plant: Directory) -> Iterator[Find]:
    moves: dict[int, list[pace.Done]] = {}
    for row in rows:
        if plant.body("place", row["said"]).get("kind") == "rack":
            moves.setdefault(row["unit"], []).append(pace.Done(row["at"], row["unit"], row["said"]))
    for unit, work in moves.items():
        for one, other in pace.in_two_places(work, pace.LEAST_BETWEEN_RACKS):
            minutes = int((other.at - one.at).total_seconds() // 60)
            yield Find(TWO_RACKS, other.at, (unit,), {"one": one.where, "other": other.where, "minutes": minutes})


def _of_bindings(rows: list[Mapping[str, Any]]) -> Iterator[Find]:
    """Mouldings of one cycle and model that had all come out before the first of their plates was bound."""
    cycles: dict[tuple[str, str], list[tuple[datetime, Mapping[str, Any]]]] = {}
    for row in rows:
        if row["more"]:
            cycles.setdefault((row["more"], row["of"]), []).append((datetime.fromisoformat(row["said"]), row))
    for (_cycle, product), those in cycles.items():
        first = min(row["at"] for _out, row in those)
        lay = [row for out, row in those if out < first]
        if len(lay) > 1:
            said = {"product": product, "count": len(lay)}
            yield Find(LAY_TOGETHER, max(row["at"] for row in lay), tuple(row["unit"] for row in lay), said)


def _of_boxes(rows: list[Mapping[str, Any]], away: list[Mapping[str, Any]], plant: Directory) -> Iterator[Find]:
    taken: dict[str, list[boxes.Taken]] = {}
    for row in rows:
        held, left = json.loads(row["more"])
        taken.setdefault(row["of"], []).append(boxes.Taken(row["at"], row["unit"], int(row["said"]), held, left))
    put_away = [(row["unit"], row["at"]) for row in away]
    share = Decimal(str(plant.setting("count asks from", boxes.A_SHARE)))
    for of, those in taken.items():
        part, arm = json.loads(of)
        for one in boxes.exchanges(those, put_away, share):
            said = {"part": part, "arm": arm, "left": one.left}
            yield Find(EXCHANGED, one.at, (one.old, one.new, one.load), said)


def forget() -> None:
    """Nothing is kept of another database."""
    global _kept  # noqa: PLW0603 - see above
    _kept = None, None, []
