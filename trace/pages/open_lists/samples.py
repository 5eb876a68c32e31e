"""Retained samples that are kept, and those that were to be kept no longer than a day that is over."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import printed
from trace.genealogy.live import label_now, person_name
from trace.pages.open_lists.listed import Line, OpenList, rows
from trace.pages.open_lists.picking import coded, in_order, keys_of
from trace.readmodels.plantdata import newest
from trace.readmodels.rows import moment
from trace.sheets.addresses import unit_url
from trace.speech import names_of

SAMPLES = """FROM unit_state s JOIN unit u ON u.id = s.unit AND u.kind = 'sample' JOIN event e ON e.id = u.event
 LEFT JOIN place_now p ON p.unit = u.id WHERE s.status = 'kept'"""
# The day after the last on which it is kept, by the database's clock: nobody is stopped by it.
OVER = "(u.about->>'discard')::date < current_date"
COUNT = f"SELECT count(*), min(e.happened) {SAMPLES} AND {OVER}"
PICKS = f"""
SELECT u.uid::text AS key, e.happened AS since, CASE WHEN {OVER} THEN 'over' ELSE 'kept' END AS kind,
  concat_ws(' ', u.about->>'material', u.lot_no, p.place, {coded(label_now("l.unit = u.id"))},
    {person_name("e.person")}) AS words
{SAMPLES}
"""
FOUND = f"""
SELECT u.uid::text AS key, e.happened, e.person, u.lot_no, u.about->>'material' AS material,
  u.about->>'discard' AS until, {OVER} AS over, p.place, {label_now("l.unit = u.id")} AS code
{SAMPLES} AND u.uid = ANY (%(keys)s::uuid[])
"""


def lines(skipped: int, most: int) -> list[Line]:
    """Those past their day, oldest first."""
    return of(keys_of(f"{PICKS} AND {OVER}", skipped, most))


def of(keys: Sequence[str]) -> list[Line]:
    """The samples of these uids, in their order."""
    found = in_order(keys, rows(FOUND, {"keys": list(keys)}))
    names = names_of({one["person"] for one in found if one["person"]})
    lot = _("lot %(lot)s")
    return [
        Line(
            what=" ".join(x for x in (one["material"], lot % {"lot": one["lot_no"]} if one["lot_no"] else "") if x),
            since=moment(one["happened"]),
            codes=((printed(one["code"]), unit_url(one["code"])),) if one["code"] else (),
            detail=", ".join(x for x in (_place(one["place"]), _until(one["until"], over=one["over"])) if x),
            who=names.get(one["person"] or "", ""),
            key=str(one["key"]),
        )
        for one in found
    ]


def _place(key: str | None) -> str:
    return str(newest().body("place", key).get("name") or key) if key else _("no shelf recorded")


def _until(day: str, *, over: bool) -> str:
    return (_("was to be kept until %(day)s") if over else _("kept until %(day)s")) % {"day": day}


def kind_words(kind: str) -> str:
    return _("past its day") if kind == "over" else _("kept")


SAMPLES_KEPT = OpenList(
    "samples", gettext_lazy("Retained samples"), gettext_lazy("Those past their day wait; all are listed"),
    gettext_lazy("No sample is past its day."), gettext_lazy("oldest first"), COUNT, lines, PICKS, of, kind_words,
    where="stores",
)  # fmt: skip
