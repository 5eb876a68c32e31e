"""Holds in force: what each was laid on, why, by whom, and how many hulls it stops."""

from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from trace.codes import printed
from trace.genealogy.live import held_name, label_now
from trace.pages.open_lists.listed import Line, OpenList, rows, thing_url
from trace.readmodels.rows import moment
from trace.recording.acts import hold_words
from trace.recording.floor import words as say
from trace.speech import spoken

# A wide hold is on millions of units; so many of them are looked at to say how many hulls it stops.
LOOKED_AT = 2000
# A hold is over when it was released altogether, or for the very thing it was laid on.
IN_FORCE = """NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND (r.unit IS NULL OR r.unit = h.unit))"""
COUNT = f"SELECT count(*), min(e.happened) FROM hold h JOIN event e ON e.id = h.event WHERE {IN_FORCE}"
HOLDS = f"""
WITH shown AS MATERIALIZED (
  SELECT h.id, h.uid, h.unit, h.rule, e.happened, e.person, e.why FROM hold h JOIN event e ON e.id = h.event
   WHERE {IN_FORCE} ORDER BY e.happened DESC, h.id DESC OFFSET %(skipped)s LIMIT %(most)s)
SELECT s.uid, s.rule, s.happened, s.person, s.why, u.uid AS unit, u.kind, {held_name("u")} AS name,
  {label_now("l.unit = u.id OR l.carrier = u.carrier")} AS code,
  (SELECT x.text FROM serial_state x WHERE x.hull = u.id) AS serial,
  (SELECT json_build_object(
     'units', count(*),
     'here', count(*) FILTER (WHERE v.kind = 'hull' AND COALESCE(p.place, '') NOT LIKE 'gone: %%'),
     'gone', count(*) FILTER (WHERE v.kind = 'hull' AND p.place LIKE 'gone: %%'))
   FROM (SELECT y.unit FROM unit_hold y WHERE y.hold = s.id LIMIT %(looked_at)s) x
   JOIN unit v ON v.id = x.unit LEFT JOIN place_now p ON p.unit = v.id) AS reach,
  EXISTS (SELECT FROM job j WHERE j.key = 'spread hold ' || s.uid AND j.state <> 'done') AS spreading
FROM shown s JOIN unit u ON u.id = s.unit ORDER BY s.happened DESC, s.id DESC
"""


def lines(skipped: int, most: int) -> list[Line]:
    """Newest first."""
    found = rows(HOLDS, {"skipped": skipped, "most": most, "looked_at": LOOKED_AT})
    reasons = [hold_words.reason(one) for one in found]
    people = [say.person(one["person"]) if one["person"] else "" for one in found]
    said = spoken([*reasons, *people])
    return [_line(one, said[n], said[len(found) + n]) for n, one in enumerate(found)]


def _line(one: dict[str, Any], reason: str, who: str) -> Line:
    text = printed(one["code"]) if one["code"] else ""
    name = str(one["name"])
    codes = [(name, thing_url(one["kind"], one["serial"], one["code"], one["unit"]))]
    return Line(
        what=_("%(rule)s: %(reason)s") % {"rule": one["rule"].replace("-", " "), "reason": reason},
        since=moment(one["happened"]),
        codes=(*codes, *(((text, ""),) if text and text != name else ())),
        who=who,
        amount=_reach(one["reach"], spreading=one["spreading"]),
        stop=True,
        do=_("Find what it is on"),
        do_url=f"{reverse('containment')}?hold={one['uid']}",
    )


def _reach(reach: dict[str, int], *, spreading: bool) -> str:
    cut = spreading or reach["units"] >= LOOKED_AT
    hulls = reach["here"] + reach["gone"]
    said = ngettext("%(n)d hull", "%(n)d hulls", hulls) % {"n": hulls}
    if cut:
        said = _("%(hulls)s or more") % {"hulls": said}
    if reach["gone"]:
        said = _("%(hulls)s, %(gone)d of them gone") % {"hulls": said, "gone": reach["gone"]}
    return said


HOLDS_IN_FORCE = OpenList(
    "holds", gettext_lazy("Holds in force"), gettext_lazy("What must not be used, packed or shipped"),
    gettext_lazy("No hold is in force."), gettext_lazy("newest first"), COUNT, lines,
)  # fmt: skip
