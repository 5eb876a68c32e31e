"""Hulls that wait for their inspection or a decision after it, inspected beside the list; and what was inspected."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.genealogy.live import person_name
from trace.pages.open_lists.listed import Line, OpenList, rows
from trace.pages.open_lists.picking import in_order, keys_of
from trace.pages.open_lists.to_inspect import INSPECT
from trace.readmodels.plantdata import newest
from trace.readmodels.rows import moment
from trace.sheets.addresses import hull_url
from trace.speech import names_of

RECORDED_DAYS = 90
WAITING = """FROM unit_state s JOIN unit u ON u.id = s.unit AND u.kind = 'hull' JOIN event e ON e.id = u.event
  JOIN serial_state t ON t.hull = u.id WHERE s.status IN ('bound', 'failed inspection', 'returned', 'repaired')"""
COUNT = f"SELECT count(*), min(e.happened) {WAITING}"
PICKS = f"""
SELECT u.uid::text AS key, e.happened AS since, s.status AS kind,
  concat_ws(' ', t.text, u.about->>'product', u.about->>'colour', u.about->>'order', {person_name("e.person")}) AS words
{WAITING}
"""
HULLS = """
SELECT u.uid AS key, t.text AS serial, u.about, s.status, e.happened, e.person, p.place,
  EXISTS (SELECT FROM unit_hold h WHERE h.unit = u.id) AS held,
  (SELECT json_agg(concat_ws(' ', g.what, nullif(g.which, ''))) FROM gap g WHERE g.unit = u.id) AS gaps
FROM unit u JOIN unit_state s ON s.unit = u.id JOIN event e ON e.id = u.event JOIN serial_state t ON t.hull = u.id
  LEFT JOIN place_now p ON p.unit = u.id WHERE u.uid = ANY (%(keys)s::uuid[])
"""
# By when it was recorded, which the table of events is in order of.
RECORDS = f"""FROM event e JOIN event_unit x ON x.event = e.id AND x.role = 'inspected'
  JOIN serial_state t ON t.hull = x.unit
 WHERE e.kind = 'inspected' AND e.recorded > now() - interval '{RECORDED_DAYS} days'"""
RECORDS_COUNT = f"SELECT count(*), min(e.happened) {RECORDS}"
RECORDS_PICKS = f"""
SELECT e.uid::text AS key, e.happened AS since, e.body::jsonb->'says'->>'verdict' AS kind,
  concat_ws(' ', t.text, {person_name("e.person")}) AS words {RECORDS}
"""
RECORD = """
SELECT e.uid AS key, t.text AS serial, e.happened, e.person, e.body::jsonb->'says' AS says, n.text AS remark
FROM event e JOIN event_unit x ON x.event = e.id AND x.role = 'inspected' JOIN serial_state t ON t.hull = x.unit
  LEFT JOIN note n ON n.digest = e.body::jsonb->'says'->>'remark' WHERE e.uid = ANY (%(keys)s::uuid[])
"""


def status_words(status: str) -> str:
    words = {
        "bound": _("to inspect"), "failed inspection": _("failed: to be decided"), "pass": _("passed"),
        "fail": _("failed"), "returned": _("came back: to inspect"), "repaired": _("repaired: to inspect"),
    }  # fmt: skip
    return words.get(status, status)


def lines(skipped: int, most: int) -> list[Line]:
    """Oldest first."""
    return of(keys_of(PICKS, skipped, most))


def of(keys: Sequence[str]) -> list[Line]:
    """The hulls of these uids, in their order."""
    found = in_order(keys, rows(HULLS, {"keys": list(keys)}))
    names = names_of({one["person"] for one in found if one["person"]})
    return [_line(one, names) for one in found]


def _line(one: dict[str, Any], names: dict[str, str]) -> Line:
    plant, about = newest(), one["about"]
    model = plant.body("product", about.get("product")).get("name") or about.get("product") or ""
    place = plant.body("place", one["place"]).get("name") or one["place"]
    missing = [_("no record of its %(what)s") % {"what": gap} for gap in one["gaps"] or []]
    return Line(
        what=", ".join(str(x) for x in (model, about.get("colour")) if x),
        since=moment(one["happened"]),
        codes=((one["serial"], hull_url(one["serial"])),),
        detail=", ".join(
            str(x) for x in (status_words(one["status"]), _("on hold") if one["held"] else "", *missing, place) if x
        ),
        who=names.get(one["person"] or "", ""),
        stop=bool(one["held"]),
        key=str(one["key"]),
    )


def records(skipped: int, most: int) -> list[Line]:
    """Newest first."""
    return records_of(keys_of(RECORDS_PICKS, skipped, most, "newest"))


def records_of(keys: Sequence[str]) -> list[Line]:
    """The inspections of these events, in their order."""
    found = in_order(keys, rows(RECORD, {"keys": list(keys)}))
    names = names_of({one["person"] for one in found if one["person"]})
    return [_record(one, moment(one["happened"]), names.get(one["person"] or "", "")) for one in found]


def _record(one: dict[str, Any], when: datetime, who: str) -> Line:
    says = one["says"]
    zones = [f"{zone} {mm} mm" for zone, mm in sorted((says.get("thickness") or {}).items())]
    mass = [f"{says['mass']} kg"] if says.get("mass") else []
    seen = [_("seen %(colour)s") % {"colour": says["colour"]}] if says.get("colour") else []
    return Line(
        what=status_words(str(says.get("verdict", ""))).capitalize(),
        since=when,
        codes=((one["serial"], hull_url(one["serial"])),),
        detail=", ".join(
            [*zones, *mass, *seen, *map(str, says.get("checks") or []), *([one["remark"]] if one["remark"] else [])]
        ) or _("nothing was measured or ticked"),
        who=who,
        stop=says.get("verdict") == "fail",
        key=str(one["key"]),
    )  # fmt: skip


TO_INSPECT = OpenList(
    "inspections", gettext_lazy("Hulls to inspect"),
    gettext_lazy("Bound, come back or repaired and not inspected since, or failed and not decided"),
    gettext_lazy("No hull waits for its inspection."), gettext_lazy("oldest first"), COUNT, lines,
    PICKS, of, status_words, (INSPECT,), where="finishing",
)  # fmt: skip
INSPECTED = OpenList(
    "inspected", gettext_lazy("Inspections recorded"),
    gettext_lazy("Of the last 90 days; older ones stand on the hull's page"),
    gettext_lazy("No inspection was recorded in the last 90 days."), gettext_lazy("newest first"), RECORDS_COUNT,
    records, RECORDS_PICKS, records_of, status_words, at_home=False, first="newest",
)  # fmt: skip
