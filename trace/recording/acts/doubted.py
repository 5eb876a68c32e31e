"""Holds on what may be in a hull because a record behind it is missing: nothing proves that it is not there."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import product
from typing import Any

from trace.genealogy.graph import Node
from trace.genealogy.live import LIVE_NOW, id_array
from trace.genealogy.missing import (
    BEFORE_RECORDS,
    BULK_KINDS,
    FOUND,
    NOT_OF_MATERIAL,
    Gap,
    PlantData,
    Suspect,
    could_fill,
)
from trace.genealogy.mixes import materials_of
from trace.genealogy.prepared import fetch_json, fetch_rows, fetch_together
from trace.readmodels.holds import WAITING
from trace.readmodels.plantdata import Directory
from trace.readmodels.rows import moment
from trace.recording.acts import hold_words
from trace.recording.acts.joining import joins, shared_sentence
from trace.recording.floor import words as say
from trace.recording.floor.behind_hull import behind_hulls, hulls_in
from trace.recording.floor.hold_list import UNDER_WAY
from trace.recording.floor.scopes_on_hold import NEWEST, LiveScope, any_kept, live_scopes
from trace.recording.floor.standing import Floor
from trace.recording.floor.units import AT_GATE

BEHIND = f"""
  SELECT p.parent FROM behind b, LATERAL (SELECT e.parent FROM edge e
     WHERE e.child = b.unit AND {LIVE_NOW} OFFSET 0) p"""
# The materials under a hold are read off so many units; of a wider one, or one still being spread, they count as
# unknown, so that it could be anything.
MOST_READ = 20_000
# Gaps behind all of the hulls together (they share most of what is behind them) and, where there are any, the open
# holds on powder, inserts and graphics, each with all the materials that came of what it was laid on.
DOUBTS = f"""
WITH RECURSIVE behind(unit) AS (
  SELECT u.id FROM unit u WHERE u.uid = ANY (%(hulls)s::uuid[])
  UNION {BEHIND}),
missing AS MATERIALIZED (
  SELECT b.unit, g.what, g.which, g.event FROM behind b JOIN gap g ON g.unit = b.unit
   WHERE g.what <> ALL (%(no_material)s::text[])
  UNION
  SELECT u.id, %(before)s::text, '', u.event FROM behind b JOIN unit u ON u.id = b.unit
   WHERE u.about->>'origin' = %(before)s::text)
SELECT json_build_object('scopes', ({NEWEST}), 'under_way', ({UNDER_WAY}),
  'gaps', (SELECT json_agg(json_build_object('what', m.what, 'which', m.which,
       'found', {FOUND.format(event="f", which="m.which")}, 'unit', u.id,
       'uid', u.uid, 'kind', u.kind, 'about', u.about, 'event', u.event, 'made', v.happened) ORDER BY m.unit)
     FROM missing m JOIN event f ON f.id = m.event JOIN unit u ON u.id = m.unit JOIN event v ON v.id = u.event),
  'holds', (SELECT json_agg(json_build_object('uid', h.uid, 'rule', h.rule, 'why', l.why, 'unit', u.id,
       'cleared', (SELECT json_agg(c.uid) FROM hold_release x JOIN unit c ON c.id = x.unit WHERE x.hold = h.id),
       'unit_uid', u.uid, 'kind', u.kind, 'lot_no', u.lot_no, 'about', u.about, 'event', u.event, 'made', v.happened,
       'wide', h.id IN ({WAITING}) OR (SELECT count(*) FROM (SELECT FROM unit_hold w WHERE w.hold = h.id
                                                              LIMIT {MOST_READ} + 1) m) > {MOST_READ},
       'materials', (SELECT json_agg(DISTINCT m.name)
                       FROM (SELECT w.unit FROM unit_hold w WHERE w.hold = h.id LIMIT {MOST_READ} + 1) w
                       JOIN unit a ON a.id = w.unit, LATERAL jsonb_array_elements_text(COALESCE(a.about->'materials',
                         jsonb_build_array(a.about->'material'))) AS m(name)
                      WHERE a.kind = ANY (%(bulk)s::text[]))) ORDER BY h.id)
     FROM hold h JOIN event l ON l.id = h.event JOIN unit u ON u.id = h.unit JOIN event v ON v.id = u.event
    WHERE EXISTS (SELECT FROM missing) AND h.rule <> '{AT_GATE}' AND u.kind = ANY (%(bulk)s::text[])
      AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = h.unit))))::text
"""
# Which of the hulls these units are behind.
WHOSE = f"""
WITH RECURSIVE behind(hull, unit) AS (
  SELECT u.id, u.id FROM unit u WHERE u.uid = ANY (%(hulls)s::uuid[])
  UNION {BEHIND.replace("SELECT p.parent", "SELECT b.hull, p.parent")})
SELECT h.uid::text, b.unit FROM behind b JOIN unit h ON h.id = b.hull
 WHERE b.unit = ANY (%(units)s::bigint[]) ORDER BY b.hull, b.unit
"""


@dataclass(frozen=True)
class Doubt:
    """A hull (its uid) with a record missing (`what`, `which`) that the held lot could fill: `hold` as it was laid."""

    hull: str
    what: str
    which: str
    hold: dict[str, Any]

    @property
    def sentence(self) -> str:
        """ "Its foam is not on record and may be of FM-22 lot F-118, which is on hold: …"."""
        if self.what == BEFORE_RECORDS:
            missing = "It was made before records began"
        else:
            missing = f"The record of its {self.which or self.what} is missing"
        held = say.lot_name(self.hold["about"], self.hold["lot_no"])
        return f"{missing}: it may hold {held} ({hold_words.reason(self.hold)})"


def doubts(hulls: list[str], plant: Directory) -> list[Doubt]:
    """The open holds that would be on these hulls (uids) if the records were whole, as far as anybody knows. One
    statement; a second one where there are any."""
    return _doubts(hulls, fetch_json(*_asked(hulls)), plant) if hulls else []


@dataclass(frozen=True)
class Stopped:
    """What may stop hulls on which no hold is: doubts, and by uid the scope on hold that each joins. `under_way`: since
    when hulls under a wide hold are looked for, None where none are."""

    doubts: tuple[Doubt, ...] = ()
    joined: Mapping[str, LiveScope] = field(default_factory=dict)
    under_way: datetime | None = None

    @property
    def hulls(self) -> list[str]:
        return list(dict.fromkeys([*(doubt.hull for doubt in self.doubts), *self.joined]))

    @property
    def sentence(self) -> str:
        return self.doubts[0].sentence if self.doubts else shared_sentence(self.joined)


def stopped(hulls: list[str], floor: Floor) -> Stopped:
    """What may stop these hulls (uids). One statement: whether scopes are on hold is known from the last look, and it
    says itself when that has changed; a second one where there are doubts, or the first scope was held meanwhile."""
    if not hulls:
        return Stopped()
    asked = [_asked(hulls), behind_hulls(hulls)] if any_kept() else [_asked(hulls)]
    read, *behind = fetch_together(*asked)
    newest = read["scopes"]
    if live_scopes(newest) and not behind:
        behind = fetch_together(behind_hulls(hulls))
    since = read["under_way"]
    return Stopped(
        tuple(_doubts(hulls, read, floor.plant)), joins(hulls_in(behind[0]), floor, newest) if behind else {},
        moment(since) if since else None,
    )  # fmt: skip


def _asked(hulls: list[str]) -> tuple[str, dict[str, Any]]:
    return DOUBTS, {
        "hulls": hulls, "no_material": sorted(NOT_OF_MATERIAL), "before": BEFORE_RECORDS, "bulk": list(BULK_KINDS),
    }  # fmt: skip


def _doubts(hulls: list[str], read: Mapping[str, Any], plant: Directory) -> list[Doubt]:
    open_: dict[int, list[tuple[dict[str, Any], dict[str, Any]]]] = {}
    for gap, hold in product(read["gaps"] or [], read["holds"] or []):
        if _could_be(gap, hold, plant):
            open_.setdefault(gap["unit"], []).append((gap, hold))
    if not open_:
        return []
    return [
        Doubt(hull, gap["what"], gap["which"], hold)
        for hull, unit in fetch_rows(WHOSE, {"hulls": hulls, "units": id_array(open_)})
        for gap, hold in open_[unit]
        if hull not in (hold["cleared"] or [])
    ]


def _could_be(gap: dict[str, Any], hold: dict[str, Any], plant: Directory) -> bool:
    """Could what is on hold be what this gap does not tell? The walk's own judgement."""
    unit = _node(gap["unit"], gap["uid"], None, gap)
    missing = Gap(gap["unit"], gap["what"], gap["which"], moment(gap["found"]))
    own = hold["about"].get("material")
    suspect = Suspect(
        _node(hold["unit"], hold["unit_uid"], hold["lot_no"], hold),
        frozenset({*materials_of(hold["about"]), *(m for m in hold["materials"] or [] if m)})
        if own and not hold["wide"] else None,
    )
    return could_fill(suspect, missing, unit, _plant_data(unit, suspect, plant))


def _node(unit: int, uid: str, lot_no: str | None, row: dict[str, Any]) -> Node:
    return Node(
        unit, uid, row["kind"], lot_no, row["about"], None, None, None, row["event"], moment(row["made"])
    )


def _plant_data(unit: Node, suspect: Suspect, plant: Directory) -> PlantData:
    recipe = plant.product_of(dict(unit.about))
    key = str(unit.about.get("product")), unit.about.get("recipe")
    return PlantData(
        {key: recipe} if recipe else {}, {m: plant.body("material", m) for m in suspect.materials or ()}
    )
