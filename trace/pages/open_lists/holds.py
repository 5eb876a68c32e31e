"""Holds in force: what each was laid on, why, by whom, and how many hulls it stops; laid and ended beside the list."""

from collections.abc import Sequence
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from plant.stations import title_of
from trace.codes import printed
from trace.genealogy.live import held_name, label_now, person_name
from trace.pages.hold_known import known_url
from trace.pages.open_lists.listed import Line, OpenList, rows, thing_url
from trace.pages.open_lists.picking import coded, in_order, keys_of
from trace.pages.open_lists.to_hold import END, LAY, kind_words
from trace.readmodels.rows import moment
from trace.recording.acts import hold_words
from trace.recording.floor import words as say
from trace.recording.floor.hold_list import in_force, plant_and_number, screens
from trace.recording.rules.table import BY_CODE
from trace.sheets.addresses import hull_url
from trace.speech import spoken

# A wide hold is on millions of units; so many of them are looked at to say how many hulls it stops.
LOOKED_AT = 2000
# A narrow one names its hulls: one of at most so many units, and at most so many hulls.
NAMED_OF, NAMED = 40, 4
# A hold is over when it was released altogether, or for the very thing it was laid on.
IN_FORCE = """NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND (r.unit IS NULL OR r.unit = h.unit))"""
# A hold on a scope is a hold on each of its hulls: it is one line, that of the first of them.
SAME_SCOPE = f"""SELECT min(o.id) AS first, count(*) AS n FROM hold o WHERE o.rule = h.rule
   AND {IN_FORCE.replace("h.", "o.")}"""
LISTED = f"""{IN_FORCE} AND (h.rule NOT LIKE 'scope %%' OR h.id = (SELECT first FROM ({SAME_SCOPE}) same))"""
COUNT = f"SELECT count(*), min(e.happened) FROM hold h JOIN event e ON e.id = h.event WHERE {LISTED}"
PICKS = f"""
SELECT h.uid::text AS key, e.happened AS since, h.rule AS kind,
  concat_ws(' ', {held_name("u")}, u.lot_no, h.rule, n.text, {person_name("e.person")},
    {coded(label_now("l.unit = u.id OR l.carrier = u.carrier"))}) AS words
FROM hold h JOIN event e ON e.id = h.event JOIN unit u ON u.id = h.unit LEFT JOIN note n ON n.digest = e.why
WHERE {LISTED}
"""
HOLDS = f"""
WITH shown AS MATERIALIZED (
  SELECT h.id, h.uid, h.unit, h.rule, e.happened, e.person, e.why, e.id AS record
    FROM hold h JOIN event e ON e.id = h.event
   WHERE h.uid = ANY (%(keys)s::uuid[]))
SELECT s.uid AS key, s.record, s.rule, s.happened, s.person, s.why, u.uid AS unit, u.kind, {held_name("u")} AS name,
  {label_now("l.unit = u.id OR l.carrier = u.carrier")} AS code,
  (SELECT x.text FROM serial_state x WHERE x.hull = u.id) AS serial,
  (SELECT json_build_object(
     'units', count(*),
     'here', count(*) FILTER (WHERE v.kind = 'hull' AND COALESCE(p.place, '') NOT LIKE 'gone: %%'),
     'names', (SELECT json_agg(t.text ORDER BY t.text) FROM (SELECT y.unit FROM unit_hold y WHERE y.hold = s.id
        LIMIT {NAMED_OF}) y JOIN serial_state t ON t.hull = y.unit),
     'gone', count(*) FILTER (WHERE v.kind = 'hull' AND p.place LIKE 'gone: %%'))
   FROM (SELECT y.unit FROM unit_hold y WHERE y.hold = s.id LIMIT %(looked_at)s) x
   JOIN unit v ON v.id = x.unit LEFT JOIN place_now p ON p.unit = v.id) AS reach,
  (SELECT n FROM ({SAME_SCOPE.replace("h.rule", "s.rule")}) same WHERE s.rule LIKE 'scope %%') AS scope,
  EXISTS (SELECT FROM job j WHERE j.key = 'spread hold ' || s.uid AND j.state <> 'done') AS spreading
FROM shown s JOIN unit u ON u.id = s.unit
"""


def lines(skipped: int, most: int) -> list[Line]:
    """Oldest first."""
    return of(keys_of(PICKS, skipped, most))


def of(keys: Sequence[str]) -> list[Line]:
    """The holds of these uids, in their order."""
    found = in_order(keys, rows(HOLDS, {"keys": list(keys), "looked_at": LOOKED_AT}))
    reasons = [hold_words.reason(one) for one in found]
    people = [say.person(one["person"]) if one["person"] else "" for one in found]
    said = spoken([*reasons, *people])
    heard = _heard()
    return [_line(one, said[n], said[len(found) + n], heard) for n, one in enumerate(found)]


Heard = dict[int | str, tuple[str, str]]


def _heard() -> Heard:
    """Of each hold that a person laid, by its record or its scope's rule: on how many screens it is known and on which
    it is not, and the page that says whom to phone."""
    found: Heard = {}
    there = screens(timezone.now())
    for held in in_force(plant_and_number()[1]):
        lacks = [one for one in there if not one.knows(held)]
        said = _("known on %(n)d of %(all)d screens") % {"n": len(there) - len(lacks), "all": len(there)}
        if lacks:
            stations = ", ".join(dict.fromkeys(title_of(one.station) for one in lacks))
            said = _("%(said)s, not on: %(stations)s") % {"said": said, "stations": stations}
        found[held.key if held.kind == "scope" else held.record] = said, known_url(held.key)
    return found


def _line(one: dict[str, Any], reason: str, who: str, heard: Heard) -> Line:
    text = printed(one["code"]) if one["code"] else ""
    name = str(one["name"])
    codes = [(name, thing_url(one["kind"], one["serial"], one["code"], one["unit"]))]
    hulls = (one["reach"]["names"] or []) if one["reach"]["units"] < NAMED_OF else []
    named = [(hull, hull_url(hull)) for hull in hulls[:NAMED] if hull != name] if len(hulls) <= NAMED else []
    known = heard.get(one["rule"] if one["scope"] else one["record"])
    if one["scope"]:
        return _scope_line(one, reason, who, known)
    return Line(
        what=reason if one["rule"] in BY_CODE else f"{kind_words(one['rule'])}: {reason}",
        since=moment(one["happened"]),
        codes=(*codes, *(((text, ""),) if text and text != name else ()), *named, *((known,) if known else ())),
        who=who,
        amount=_reach(one["reach"], spreading=one["spreading"]),
        stop=True,
        do=_("Find what it is on"),
        do_url=f"{reverse('containment')}?hold={one['key']}",
        key=str(one["key"]),
    )


def _scope_line(one: dict[str, Any], reason: str, who: str, known: tuple[str, str] | None) -> Line:
    """All the hulls of one hold on a scope; they are let go on its own page."""
    return Line(
        what=reason,
        since=moment(one["happened"]),
        codes=(known,) if known else (),
        who=who,
        amount=ngettext("%(n)d hull", "%(n)d hulls", one["scope"]) % {"n": one["scope"]},
        stop=True,
        do=_("Its hulls, and how they are let go"),
        do_url=reverse("scope_holds"),
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
    gettext_lazy("No hold is in force."), gettext_lazy("oldest first"), COUNT, lines,
    PICKS, of, kind_words, (LAY, END), where="gate",
)  # fmt: skip
