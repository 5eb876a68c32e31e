"""Places that are being counted: how far each count is, live."""

from collections.abc import Sequence

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.genealogy.live import person_name
from trace.pages.open_lists.listed import Line, OpenList
from trace.pages.open_lists.picking import keys_of
from trace.recording.floor.stock_counts import StockCount, standing, stock_counts
from trace.sheets.addresses import unit_url
from trace.speech import names_of

OPEN = """FROM event e WHERE e.kind = 'stock_count_begun' AND NOT EXISTS (SELECT FROM event y
  WHERE y.kind = 'stock_count_ended' AND y.id > e.id AND y.body::jsonb #>> '{says,count}' = e.uid::text)"""
COUNT = f"SELECT count(*), min(e.happened) {OPEN}"
PICKS = f"""
SELECT e.uid::text AS key, e.happened AS since, 'open' AS kind,
  concat_ws(' ', e.body::jsonb #>> '{{says,place}}', {person_name("e.person")}) AS words {OPEN}
"""
SHOWN = 8


def lines(skipped: int, most: int) -> list[Line]:
    """Oldest first."""
    return of(keys_of(PICKS, skipped, most))


def of(keys: Sequence[str]) -> list[Line]:
    """The counts of these uids, in their order."""
    found = [one for key in keys for one in stock_counts(key)]
    names = names_of({one.person for one in found if one.person})
    return [_line(one, names.get(one.person, "")) for one in found]


def _line(one: StockCount, who: str) -> Line:
    there = standing(one)
    lost = [thing.name for thing in there if thing.missing]
    named = ", ".join(lost[:SHOWN]) + (_(" and %(n)d more") % {"n": len(lost) - SHOWN} if len(lost) > SHOWN else "")
    return Line(
        what=_("Stock count of %(place)s") % {"place": one.place},
        since=one.begun,
        codes=((one.place, unit_url(one.place)),),
        detail=_("not seen yet: %(names)s") % {"names": named} if lost else _("all seen"),
        who=who,
        amount=_("%(seen)d of %(all)d seen, %(strange)d not expected") % {
            "seen": sum(thing.seen for thing in there), "all": len(there), "strange": sum(t.strange for t in there),
        },
        do=_("Go on counting"),
        do_url=reverse("station", args=["stock-count"]),
        key=one.uid,
    )  # fmt: skip


STOCK_COUNTS_OPEN = OpenList(
    "stock-counts", gettext_lazy("Stock counts"), gettext_lazy("Places being counted, and what is not seen yet"),
    gettext_lazy("No place is being counted."), gettext_lazy("oldest first"), COUNT, lines, PICKS, of, where="stores",
)  # fmt: skip
