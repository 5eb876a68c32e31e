"""How an arm and an oven are drawn, now or on a past day: what the arm carries, which arms cook in the oven."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from trace.codes.positions import in_order
from trace.drawings.sketch import Cell, rows_of
from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows
from trace.pages.sheets import Drawn
from trace.readmodels.plantdata import newest
from trace.recording.floor.mould_life import hanging
from trace.sheets.addresses import unit_url
from trace.sheets.facts.revisions import revisions

Body = Mapping[str, Any]
# The last that was recorded of each mould by then: an event that changes it says the whole of how it stands.
STOOD = """
SELECT r.key, COALESCE(m->>'arm', ''), COALESCE(m->>'stage', '') FROM resource r
CROSS JOIN LATERAL (
  SELECT m FROM event_resource x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
  CROSS JOIN LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'moulds') AS m
   WHERE x.resource = r.id AND v.body::jsonb->'rows' ? 'moulds' AND m->>'mould' = r.key
   ORDER BY v.id DESC LIMIT 1) AS last
WHERE r.kind = 'mould' AND r.key = ANY (%(keys)s::text[]) AND m->>'load' IS NOT NULL
"""


@dataclass(frozen=True, slots=True)
class _Carried:
    """A mould that goes on an arm, or a free position: where, what it does there, and whether it is on it."""

    mould: str
    at: str
    does: str
    on: bool
    url: str = ""


def drawn_arm(key: str, body: Body, asked: datetime | None, at: datetime) -> Drawn | None:
    """The moulds that go on it, solid with what they do there where one is on it, else dashed; free positions."""
    carried = list(_moulds_of(key, asked, at))
    free = {str(n) for n in range(1, int(body.get("positions") or 0) + 1)} - {one.at for one in carried}
    carried += [_Carried(_("free"), name, "", on=False) for name in sorted(free, key=in_order)]
    if not carried:
        return None
    cells = [Cell(one.mould, f"{one.at} {one.does}".strip(), "done" if one.on else "open") for one in carried]
    rows = tuple(((one.at or _("any"), ""), (one.mould, one.url), (one.does, "")) for one in carried)
    title = _("What it carries") if asked is None else _("What it carried")
    head = (_("Position"), _("Mould"), _("Now") if asked is None else _("Then"))
    return Drawn(title, head, rows, sketch=rows_of("mould", cells, "arm", title))


def _moulds_of(arm: str, asked: datetime | None, at: datetime) -> Iterator[_Carried]:
    fits = {key: body for key, body in _bodies("mould", at).items() if arm in (body.get("arms") or [])}
    rows = fetch_rows(STOOD, {"keys": sorted(fits), "known": known_by(asked)}) if fits else ()
    stages = {key: stage for key, on, stage in rows if on == arm}
    hung = hanging(at)
    for key, body in fits.items():
        yield _Carried(
            key, _position(key, body, arm, hung), stages.get(key) or _does(key, arm, hung), key in stages,
            unit_url(key, asked),
        )  # fmt: skip


def _position(mould: str, body: Body, arm: str, hung: Mapping[str, tuple[str, str]]) -> str:
    """Where on the arm it hangs: by its last mounting, else by its plant data."""
    on, position = hung.get(mould, ("", ""))
    return position if on == arm else "" if on else str((body.get("mounted") or {}).get(arm, ""))


def _does(mould: str, arm: str, hung: Mapping[str, tuple[str, str]]) -> str:
    on = hung.get(mould, ("", ""))[0]
    return _("mounted") if on == arm else _("on %(arm)s") % {"arm": on} if on else _("fits it")


def _bodies(kind: str, at: datetime) -> dict[str, Body]:
    """The things of a kind that the plant had by then and had not ended, by key."""
    keys = [one.key for one in newest().of_kind(kind)]
    plant = revisions([(kind, key) for key in keys], at)
    found = {key: plant.newest(kind, key) for key in sorted(keys)}
    return {key: body for key, body in found.items() if body and not body.get("ended")}


def drawn_oven(key: str, asked: datetime | None, at: datetime) -> Drawn | None:
    """The arms that cook in it."""
    arms = {name: str(body.get("state") or "") for name, body in _bodies("machine", at).items()
            if body.get("oven") == key}  # fmt: skip
    if not arms:
        return None
    title = _("Arms that cook in it") if asked is None else _("Arms that cooked in it")
    cells = [Cell(name, state) for name, state in arms.items()]
    rows = tuple(((name, unit_url(name, asked)), (state, "")) for name, state in arms.items())
    return Drawn(title, (_("Arm"), _("State")), rows, sketch=rows_of("arm", cells, "oven", title))
