"""Who the records know as owners of hulls, as known on a day: registered, and not taken back since.

Names and contacts stand in notes; here are their digests alone.
"""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext_noop as noop

from trace.genealogy.live import id_array, known_by
from trace.genealogy.prepared import fetch_rows

# For what a hull is used: how soon it wears, and who must be told.
USES = {
    "private": noop("private"), "hire": noop("hire"), "club": noop("club or school"), "rescue": noop("rescue service"),
    "trade": noop("trade"), "other": noop("other"),
}  # fmt: skip
REGISTERED, WITHDRAWN = "owner registered", "owner withdrawn"
OWNERS = """
SELECT v.uid::text, x.role, x.unit, v.recorded, (v.body::jsonb->'says')::text
FROM event_unit x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
WHERE x.role IN ('owner registered', 'owner withdrawn')
  AND (%(every)s::boolean OR x.unit = ANY (%(hulls)s::bigint[]))
ORDER BY v.id
"""


@dataclass(frozen=True, slots=True)
class Owner:
    """One registration, by the uid of its event. first: the first purchaser; sold, region, use: "" where not told;
    owner, contact: digests; `told` is when it was recorded."""

    uid: str
    first: bool
    sold: str
    region: str
    use: str
    owner: str
    contact: str
    told: datetime


def owners(hulls: Collection[int] | None = None, as_known_on: datetime | None = None) -> Mapping[int, list[Owner]]:
    """The owners of each of these hulls (None: of all) that has one on record by then, in the order they were told."""
    values = {"known": known_by(as_known_on), "every": hulls is None, "hulls": id_array(hulls or ())}
    found: dict[int, dict[str, Owner]] = {}
    for uid, role, hull, told, text in fetch_rows(OWNERS, values):
        says: dict[str, Any] = json.loads(text)
        if role == WITHDRAWN:
            found.get(hull, {}).pop(says["registration"], None)
            continue
        found.setdefault(hull, {})[uid] = Owner(
            uid, says["owner_is"] == "first", says["sold"], says["region"], says["use"], says["owner"],
            says["contact"], told,
        )  # fmt: skip
    return {hull: list(told.values()) for hull, told in found.items() if told}


def owner_now(told: Collection[Owner]) -> Owner | None:
    """Who has the hull by the records: the later owner who was told last, else the first purchaser."""
    return max(told, key=lambda one: (not one.first, one.told), default=None)


def first_purchaser(told: Collection[Owner]) -> Owner | None:
    return next((one for one in reversed(list(told)) if one.first), None)
