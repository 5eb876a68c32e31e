"""Records that are worth a second look once they are compared: said of figures and times, never of a person."""

from collections.abc import Callable
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from trace.codes import printed
from trace.genealogy.live import id_array, label_now, live
from trace.pages.open_lists.listed import Counted, Line, OpenList, rows, thing_url
from trace.quality.unlike import found as unlike
from trace.quality.unlike.found import Find, finds
from trace.sheets.addresses import hull_url

SHOWN = 6  # things of one line
# What a unit is called, and the hulls that it became.
THINGS = f"""
WITH RECURSIVE asked AS (SELECT unnest(%(units)s::bigint[]) AS id),
 down(start, unit) AS (
  SELECT id, id FROM asked
  UNION
  SELECT w.start, c.child FROM down w, LATERAL (SELECT e.child FROM edge e WHERE e.parent = w.unit
   AND e.role IN ('charge', 'cavity', 'cut', 'bind', 'join') AND {live("e")} OFFSET 0) c)
SELECT u.id, u.uid, u.kind AS thing, u.lot_no, u.carrier, (SELECT text FROM serial_state WHERE hull = u.id) AS serial,
  {label_now("l.unit = u.id OR l.carrier = u.carrier")} AS code,
  (SELECT json_agg(DISTINCT t.text) FROM down w JOIN serial_state t ON t.hull = w.unit WHERE w.start = u.id) AS hulls
FROM asked a JOIN unit u ON u.id = a.id
"""


def count() -> Counted:
    found = finds()
    return len(found), min((find.since for find in found), default=None)


def lines(skipped: int, most: int) -> list[Line]:
    """Newest first."""
    shown = finds()[skipped : skipped + most]
    units = {unit for find in shown for unit in find.units[-SHOWN:]}
    things = {one["id"]: one for one in rows(THINGS, {"units": id_array(units)})} if units else {}
    return [_line(find, things) for find in shown]


def _line(find: Find, things: dict[int, dict[str, Any]]) -> Line:
    codes: dict[str, str] = {}
    for unit in find.units[-SHOWN:]:
        codes |= _called(things[unit]) if unit in things else {}
    what, detail = SAID[find.kind](find)
    return Line(what=what, since=find.since, codes=tuple(codes.items()), detail=detail)


def _called(one: dict[str, Any]) -> dict[str, str]:
    """A thing by what people find it by: its hulls, else its label, each with its page."""
    if one["hulls"]:
        return {text: hull_url(text) for text in one["hulls"]}
    if one["code"] and one["thing"] in ("content", "pack"):
        return {printed(one["code"]): thing_url(one["thing"], None, one["code"], one["uid"])}
    return {str(one["lot_no"] or one["thing"]): thing_url(one["thing"], None, None, one["uid"])}


QUANTITIES = {
    "gross": gettext_lazy("gross weight"),
    "peak internal air": gettext_lazy("peak inside"),
    "at demould": gettext_lazy("temperature at demould"),
    "as moulded": gettext_lazy("mass as moulded"),
    "hull mass": gettext_lazy("mass at inspection"),
}


def _read_off(find: Find) -> str:
    """Which figures these are: the layer and the scale, or the model."""
    said = find.said
    quantity = str(QUANTITIES.get(said["quantity"], said["quantity"]))
    parts = [said["product"], said["layer"], quantity, said["instrument"]]
    return ", ".join(part for part in parts if part)


def _repeated(find: Find) -> tuple[str, str]:
    said = find.said
    return (
        _("%(figure)s read %(count)d times running") % {"figure": said["figure"], "count": said["count"]},
        _("%(of)s. By how such figures scatter here, about one series in %(one_in)s shows that: look how it is read.")
        % {"of": _read_off(find), "one_in": f"{min(said['one_in'], 1e6):,.0f}"},
    )


def _endings(find: Find) -> tuple[str, str]:
    said = find.said
    return (
        _("%(count)d figures that end in %(digits)s more often than they should")
        % {"count": said["count"], "digits": ", ".join(str(digit) for digit in said["often"]) or "?"},
        _("%(of)s. Chi-square %(chi).0f on 9 degrees of freedom: look at the display's step and how it is read.")
        % {"of": _read_off(find), "chi": said["chi_square"]},
    )


def _alike(find: Find) -> tuple[str, str]:
    said = find.said
    return (
        _("The same %(zones)d thicknesses on %(hulls)d hulls") % said,
        _("%(product)s. Read one of them again, at the same zones.") % said,
    )


def _one_figure(find: Find) -> tuple[str, str]:
    said = find.said
    return (
        ngettext(
            "All zones of %(hulls)d hull read %(figure)s mm",
            "All zones of %(hulls)d hulls read %(figure)s mm",
            said["hulls"],
        )
        % said,
        _("%(product)s. Walls differ from zone to zone: read one of them again.") % said,
    )


def _quick(find: Find) -> tuple[str, str]:
    return (
        _("%(count)d charges within %(seconds)d seconds") % find.said,
        _("Scale %(scale)s. Filling takes longer: find out when they were weighed, and tell it so.") % find.said,
    )


def _two_scales(find: Find) -> tuple[str, str]:
    said = find.said
    return (
        _("One label drawn from at %(scales)s, within %(seconds)d seconds")
        % {**said, "scales": _(" and ").join(said["scales"])},
        _("Look whether two boxes carry this label, or one stands between both scales."),
    )


def _two_racks(find: Find) -> tuple[str, str]:
    return (
        ngettext(
            "Put in %(one)s and in %(other)s within %(minutes)d minute",
            "Put in %(one)s and in %(other)s within %(minutes)d minutes",
            find.said["minutes"],
        )
        % find.said,
        _("Look where it stands; a label may be on two, or a rack was misread."),
    )


def _other_time(find: Find) -> tuple[str, str]:
    said = find.said
    return (
        _("%(stage)s after %(minutes).0f minutes, usually %(usual).0f")
        % {**said, "stage": str(said["stage"]).capitalize()},
        _("%(product)s. Either the cook was another one or the scan came at another time: look at its log.") % said,
    )


def _lay_together(find: Find) -> tuple[str, str]:
    return (
        _("%(count)d mouldings of one cycle lay out together before their plates") % find.said,
        _("%(product)s. Compare each plate with the number of its moulding; next time scan mould and plate together.")
        % find.said,
    )


def _exchanged(find: Find) -> tuple[str, str]:
    return (
        ngettext(
            "Another box of %(part)s at %(arm)s, while the one before has %(left)d piece left by the book",
            "Another box of %(part)s at %(arm)s, while the one before has %(left)d pieces left by the book",
            find.said["left"],
        )
        % find.said,
        _("Ask when it was exchanged. If the load before was filled from the new one already, put its source right at "
          "Correct; if from both, hold its hull. Count what is left, and put a box away before the next is taken."),
    )  # fmt: skip


def _left_here(find: Find) -> tuple[str, str]:
    return (
        _("Here by the records, though a truck of its order has left"),
        _("%(order)s. Look in its place: if it has gone, tell the dispatch as a fact.") % find.said,
    )


SAID: dict[str, Callable[[Find], tuple[str, str]]] = {
    unlike.REPEATED: _repeated, unlike.ENDINGS: _endings, unlike.ZONES_ALIKE: _alike, unlike.ONE_FIGURE: _one_figure,
    unlike.QUICK: _quick, unlike.TWO_SCALES: _two_scales, unlike.TWO_RACKS: _two_racks, unlike.OTHER_TIME: _other_time,
    unlike.LEFT_HERE: _left_here, unlike.LAY_TOGETHER: _lay_together,
    unlike.EXCHANGED: _exchanged,
}  # fmt: skip


UNLIKE = OpenList(
    "unlike", gettext_lazy("Unlike the rest"),
    gettext_lazy("Figures that repeat, work quicker than hands, cooks unlike others, boxes exchanged"),
    gettext_lazy("Nothing of the last days is unlike the rest."), gettext_lazy("newest first"), count, lines,
    where="weighing",
)  # fmt: skip
