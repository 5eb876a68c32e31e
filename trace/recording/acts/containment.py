"""Containment walks: begun over a hold or a list of hulls, each hull scanned where it stands, ended by a person.

Nothing here lays or ends a hold: a hull that is sorted good stays held until quality ends its hold.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import connection
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.genealogy.containment import RESULTS, SAME_HOLD, SEEN, TO_FIND, Begun, listed, under_hold, walks
from trace.genealogy.live import id_array
from trace.genealogy.places import GONE, placed
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.sources import open_hold
from trace.recording.floor.standing import Floor, Found, UnitFacts

RESULT_WORDS = {
    "found": noop("found"), "tagged": noop("tagged"), "passed": noop("sorted: good"), "failed": noop("sorted: bad"),
}  # fmt: skip
# Put there by whoever reads what stands on a list: more is told in numbers, and named page by page.
MOST_LISTED = 20_000


@dataclass(frozen=True, kw_only=True)
class BeginContainment(Command):
    """hold: the uid of the hold whose hulls are looked for; else `hulls` and `may`, the uids of those that share what
    `question` asks for (the words of a cause) as known on `known_on`, for certain and maybe."""

    KIND = "containment_begun"
    NAME = noop("begin a containment walk")
    DECISION = True

    hold: str = ""
    question: tuple[str, ...] = ()
    known_on: str = ""
    hulls: tuple[str, ...] = ()
    may: tuple[str, ...] = ()

    @staticmethod
    def told(e: Told) -> str:
        if e.says["hold"]:
            return _("Containment walk begun for a hold")
        count = len(e.says["hulls"]) + len(e.says["may"])
        return _("Containment walk begun for a list of %(n)d hulls") % {"n": count}


def begin_facts(c: BeginContainment, floor: Floor) -> Facts:
    every = {*c.hulls, *c.may}
    known_hold = open_hold(c.hold) is not None if c.hold else True
    count = len(under_hold(c.hold)) if c.hold and known_hold else len(hulls_known(every))
    return {
        "containment": {
            "no_hold": not known_hold,
            "nothing": known_hold and count == 0,
            "strange": not c.hold and count < len(every),
            "too_many": len(every) > MOST_LISTED,
            "most": MOST_LISTED,
        }
    }


def hulls_known(uids: set[str]) -> set[str]:
    """Those of these uids that are hulls."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT uid::text FROM unit WHERE kind = 'hull' AND uid::text = ANY (%s)", [sorted(uids)])
        return {uid for (uid,) in cursor.fetchall()}


@handles(BeginContainment, begin_facts)
def begin(c: BeginContainment, floor: Floor, rows: Rows) -> str:
    count = len(under_hold(c.hold)) if c.hold else rows.touch_each([*c.hulls, *c.may], TO_FIND)
    return f"walk begun, {count} to find"


@dataclass(frozen=True, kw_only=True)
class SeeHull(Command):
    """A hull or a pack is seen where it stands. walk: the uid of the event that began the walk; result: one of
    RESULTS."""

    KIND = "containment_seen"
    NAME = noop("containment walk")

    walk: str
    place: str = scanned("place")
    hull: str = scanned("hull", "pack")
    result: str = "found"
    remark: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Containment walk: %(code)s in %(place)s, %(result)s") % {
            "code": printed(str(e.says["hull"])), "place": e.place_of(str(e.says["place"])),
            "result": _(RESULT_WORDS.get(str(e.says["result"]), str(e.says["result"]))),
        }  # fmt: skip


@dataclass(frozen=True)
class _Hull:
    """A hull that stands behind a scanned code: its plate, and whether it has left by the record."""

    id: int
    uid: str
    plate: str
    gone: bool


def _hulls(found: Found) -> list[_Hull]:
    """The hull scanned, or those in the pack scanned."""
    if found.hull:
        return [_Hull(found.hull.id, found.hull.uid, found.hull.serial or found.code, _left(found.hull))]
    pack = found.unit
    if pack is None or pack.kind != "pack":
        return []
    return [
        _Hull(one["id"], one["uid"], str(one["serial"]), _left(pack) or one["status"] == "dispatched")
        for one in pack.inside
        if one["kind"] == "hull"
    ]


def _left(unit: UnitFacts) -> bool:
    return unit.status == "dispatched" or (unit.place or "").startswith(GONE)


def walk_of(uid: str) -> Begun | None:
    """The walk of this uid, None where none was begun."""
    return next(iter(walks(uid=uid)), None) if uid else None


# What a hold reaches stands in a read model, but for holds whose reach is still being written.
HELD_NOW = f"""
SELECT ARRAY(SELECT x.unit FROM unit_hold x JOIN hold h ON h.id = x.hold
    WHERE x.unit = ANY (%(ids)s::bigint[]) AND {SAME_HOLD}),
  EXISTS (SELECT FROM job WHERE kind = 'spread hold' AND state <> 'done')
"""


def on_list(walk: Begun, ids: Iterable[int]) -> set[int]:
    """Those of these hulls that the walk is to find."""
    wanted = set(ids)
    if not walk.hold:
        return set(listed(walk.uid)) & wanted
    held, spreading = fetch_rows(HELD_NOW, {"hold": walk.hold, "ids": id_array(wanted)})[0]
    return under_hold(walk.hold).keys() & wanted if spreading else set(held)


def see_facts(c: SeeHull, floor: Floor) -> Facts:
    walk = walk_of(c.walk)
    hulls = _hulls(floor[c.hull])
    wanted = on_list(walk, [hull.id for hull in hulls]) if walk else set()
    return {
        "typed": {"trouble": "" if c.result in RESULTS else "Say found, tagged, passed or failed."},
        "containment": {
            "unknown": walk is None,
            "over": bool(walk and walk.ended and floor.happened >= walk.ended),
            "empty": not hulls,
            "name": floor[c.hull].name,
            "unlisted": _which([hull for hull in hulls if walk and hull.id not in wanted]),
            **_place_facts(hulls, floor[c.place].key),
        },
    }


def _place_facts(hulls: list[_Hull], here: str) -> Facts:
    """Which of the hulls stand elsewhere by the book, and which have left."""
    where = placed([hull.id for hull in hulls])
    gone = [hull for hull in hulls if hull.gone]
    other = [hull for hull in hulls if hull not in gone and hull.id in where and where[hull.id].place != here]
    whom = sorted({where[hull.id].gone for hull in gone if hull.id in where})
    return {
        "place": here,
        "elsewhere": _which(other),
        "stands": ", ".join(sorted({where[hull.id].place for hull in other})),
        "gone": _which(gone),
        "whom": ", ".join(whom) or "nobody knows",
    }


def _which(hulls: list[_Hull]) -> str:
    return ", ".join(hull.plate for hull in hulls)


@handles(SeeHull, see_facts)
def see(c: SeeHull, floor: Floor, rows: Rows) -> str:
    found, place = floor[c.hull], floor[c.place].key
    hulls = _hulls(found)
    for hull in hulls:
        rows.touch(hull.uid, SEEN)
        if hull.gone:
            # By the record it is gone and stays so: somebody has to look which of the two is true.
            rows.discrepancy("seen in the plant, though it had left by the record", hull.uid)
        else:
            rows.place(hull.uid, place)
    if found.unit and found.unit.kind == "pack" and not any(hull.gone for hull in hulls):
        rows.place(found.unit.uid, place)
    rows.resource("place", place, "place")
    return f"{_which(hulls)}: {RESULT_WORDS[c.result]}, in {place}"


@dataclass(frozen=True, kw_only=True)
class EndContainment(Command):
    """The walk is over: nothing more is looked for by it. The hold stays."""

    KIND = "containment_ended"
    NAME = noop("end a containment walk")
    DECISION = True

    walk: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Containment walk ended: %(why)s") % {"why": e.why or _("no reason given")}


def end_facts(c: EndContainment, floor: Floor) -> Facts:
    walk = walk_of(c.walk)
    return {"containment": {"unknown": walk is None, "over": bool(walk and walk.ended)}}


@handles(EndContainment, end_facts)
def end(c: EndContainment, floor: Floor, rows: Rows) -> str:
    return "the walk is over"
