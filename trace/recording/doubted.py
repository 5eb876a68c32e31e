"""Holds on what may be in a hull because a record behind it is missing: nothing proves that it is not there."""

from dataclasses import dataclass
from typing import Any

from trace.genealogy.graph import Node
from trace.genealogy.missing import BEFORE_RECORDS, BULK_KINDS, NOT_OF_MATERIAL, Gap, PlantData, Suspect, could_fill
from trace.genealogy.prepared import fetch_json
from trace.readmodels.plantdata import Directory
from trace.readmodels.rows import moment
from trace.recording import words as say

# Gaps behind each hull and, where there are any, the open holds on powder, inserts and graphics, each with all the
# materials that came of what it was laid on.
DOUBTS = """
WITH RECURSIVE behind(hull, unit) AS (
  SELECT u.id, u.id FROM unit u WHERE u.uid = ANY (%(hulls)s::uuid[])
  UNION
  SELECT b.hull, p.parent FROM behind b, LATERAL (SELECT e.parent FROM edge e WHERE e.child = b.unit AND NOT e.aside
     AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id) OFFSET 0) p),
missing AS MATERIALIZED (
  SELECT b.hull, b.unit, g.what, g.which, g.event FROM behind b JOIN gap g ON g.unit = b.unit
   WHERE g.what <> ALL (%(no_material)s::text[])
  UNION
  SELECT b.hull, u.id, %(before)s::text, '', u.event FROM behind b JOIN unit u ON u.id = b.unit
   WHERE u.about->>'origin' = %(before)s::text)
SELECT json_build_object(
  'gaps', (SELECT json_agg(json_build_object('hull', (SELECT uid FROM unit WHERE id = m.hull),
       'what', m.what, 'which', m.which, 'found', f.happened, 'unit', u.id, 'uid', u.uid, 'kind', u.kind,
       'about', u.about, 'event', u.event, 'made', v.happened) ORDER BY m.hull, m.unit)
     FROM missing m JOIN event f ON f.id = m.event JOIN unit u ON u.id = m.unit JOIN event v ON v.id = u.event),
  'holds', (SELECT json_agg(json_build_object('uid', h.uid, 'rule', h.rule, 'why', l.why, 'unit', u.id,
       'cleared', (SELECT json_agg(c.uid) FROM hold_release x JOIN unit c ON c.id = x.unit WHERE x.hold = h.id),
       'unit_uid', u.uid, 'kind', u.kind, 'lot_no', u.lot_no, 'about', u.about, 'event', u.event, 'made', v.happened,
       'materials', (SELECT json_agg(DISTINCT a.about->>'material') FROM unit_hold w JOIN unit a ON a.id = w.unit
                      WHERE w.hold = h.id AND a.kind = ANY (%(bulk)s::text[]))) ORDER BY h.id)
     FROM hold h JOIN event l ON l.id = h.event JOIN unit u ON u.id = h.unit JOIN event v ON v.id = u.event
    WHERE EXISTS (SELECT FROM missing) AND u.kind = ANY (%(bulk)s::text[])
      AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = h.unit))))::text
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
        return f"{missing}: it may hold {say.lot_name(self.hold['about'], self.hold['lot_no'])} ({say.why(self.hold)})"


def doubts(hulls: list[str], plant: Directory) -> list[Doubt]:
    """The open holds that would be on these hulls (uids) if the records were whole, as far as anybody knows. One
    statement."""
    if not hulls:
        return []
    values = {
        "hulls": hulls, "no_material": sorted(NOT_OF_MATERIAL), "before": BEFORE_RECORDS, "bulk": list(BULK_KINDS),
    }  # fmt: skip
    read = fetch_json(DOUBTS, values)
    found = []
    for gap in read["gaps"] or []:
        unit = _node(gap["unit"], gap["uid"], None, gap)
        missing = Gap(gap["unit"], gap["what"], gap["which"], moment(gap["found"]))
        for hold in read["holds"] or []:
            if gap["hull"] in (hold["cleared"] or []):
                continue
            own = hold["about"].get("material")
            suspect = Suspect(
                _node(hold["unit"], hold["unit_uid"], hold["lot_no"], hold),
                frozenset({own, *(m for m in hold["materials"] or [] if m)}) if own else None,
            )
            if could_fill(suspect, missing, unit, _plant_data(unit, suspect, plant)):
                found.append(Doubt(gap["hull"], gap["what"], gap["which"], hold))
    return found


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
