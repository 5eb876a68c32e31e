"""What left on one truck: for whom, by what, which packs with which hulls, who packed and who let it go, and how old
the list of holds was by which it left."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import connection

from trace.codes import printed
from trace.genealogy.graph import Node
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import nodes
from trace.sheets.facts.notes import notes
from trace.sheets.facts.revisions import revisions
from trace.speech import names_of

LOAD = """
SELECT u.id, v.happened, v.recorded, COALESCE(v.person, ''), v.body::jsonb #>> '{says,order}',
  v.body::jsonb #>> '{says,consignee}', v.body::jsonb #>> '{says,vehicle}', v.body::jsonb #>> '{says,collector}',
  COALESCE(v.body::jsonb #>> '{says,listed}', '0')::bigint, COALESCE(v.body::jsonb #>> '{says,listed_at}', ''), s.mode
  FROM unit u JOIN event v ON v.id = u.event AND v.kind = 'dispatched' LEFT JOIN scan s ON s.event = v.id
 WHERE u.kind = 'consignment' AND u.uid::text = %(uid)s AND v.recorded <= %(known)s::timestamptz LIMIT 1
"""
INSIDE = f"""
SELECT e.child, e.parent FROM edge e WHERE e.child = ANY (%(units)s::bigint[]) AND e.role IN ('ship', 'pack') AND {LIVE}
 ORDER BY e.id
"""
PACKED_BY = """
SELECT u.id, COALESCE(v.person, ''), v.happened FROM unit u JOIN event v ON v.id = u.event
 WHERE u.id = ANY (%(units)s::bigint[])
"""


@dataclass(frozen=True, slots=True)
class Hull:
    """One hull on the truck, or what was loaded without being one."""

    plate: str
    model: str
    colour: str


@dataclass(frozen=True, slots=True)
class LoadedPack:
    """One pack, who packed it and when."""

    code: str
    who: str
    when: datetime
    hulls: tuple[Hull, ...]


@dataclass(frozen=True, slots=True)
class Load:
    """One load as known then. `age`: of the list of holds when it left, None where nobody knows it (told later);
    `list`: its number."""

    uid: str
    order: str
    consignee: str
    vehicle: str
    collector: str
    gone: datetime
    recorded: datetime
    who: str
    packs: tuple[LoadedPack, ...]
    list: int
    age: timedelta | None
    as_known_on: datetime

    @property
    def hulls(self) -> int:
        return sum(len(pack.hulls) for pack in self.packs)

    @property
    def minutes(self) -> int | None:
        """The age of the list in whole minutes."""
        return None if self.age is None else int(self.age.total_seconds() // 60)


def load_of(uid: str, as_known_on: datetime) -> Load:
    """Raises LookupError where no such load was known then."""
    known = known_by(as_known_on)
    with connection.cursor() as cursor:
        cursor.execute(LOAD, {"uid": uid, "known": known})
        row = cursor.fetchone()
    if row is None:
        raise LookupError("No load is known by that.")
    unit, gone, recorded, person, order, consignee, vehicle, collector, number, listed_at, mode = row
    packs = [parent for _child, parent in _inside([unit], known)]
    hulls = _inside(packs, known)
    units = nodes([*packs, *(hull for _pack, hull in hulls)], as_known_on)
    packed = {one: (who, when) for one, who, when in fetch_rows(PACKED_BY, {"units": id_array(packs)})}
    people = names_of({person, *(who for who, _when in packed.values())} - {""})
    consignees = revisions([("consignee", consignee)], as_known_on)
    named = consignees.newest("consignee", consignee).get("name")
    words = notes([collector, named])
    return Load(
        uid=uid, order=order or "", consignee=words.text(named) or consignee or "", vehicle=vehicle or "",
        collector=words.text(collector), gone=gone, recorded=recorded, who=people.get(person, ""),
        packs=tuple(
            LoadedPack(
                printed(units[pack].code), people.get(packed[pack][0], ""), packed[pack][1],
                tuple(_hull(units[hull], as_known_on) for of, hull in hulls if of == pack and hull in units)
                or ((_hull(units[pack], as_known_on),) if units[pack].kind != "pack" else ()),
            )
            for pack in packs if pack in units
        ),
        list=number, age=_age(listed_at, gone, recorded, mode), as_known_on=as_known_on,
    )  # fmt: skip


def _inside(units: Collection[int], known: str) -> list[tuple[int, int]]:
    rows = fetch_rows(INSIDE, {"units": id_array(units), "known": known}) if units else []
    return [(child, parent) for child, parent in rows]


def _hull(node: Node, known: datetime) -> Hull:
    product = str(node.about.get("product") or "")
    name = revisions([("product", product)], known).newest("product", product).get("name")
    return Hull(node.said, str(name or product), str(node.about.get("colour") or ""))


def _age(listed_at: str, gone: datetime, recorded: datetime, mode: str | None) -> timedelta | None:
    """Unknown where it was told later or no page sent it, however young the list was when it was told."""
    try:
        made = datetime.fromisoformat(listed_at)
    except ValueError:
        return None
    return max(recorded - made, timedelta()) if mode == "asks" and gone == recorded else None
