"""A stock count: the place once, then everything that stands in it, while work goes on; live what is not seen yet."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import printed
from trace.recording.acts.stock_counts import COUNTED, BeginStockCount, EndStockCount, SeeStock
from trace.recording.commands import Command
from trace.recording.floor import words as say
from trace.recording.floor.stock_counts import Standing, StockCount, standing, stock_counts
from trace.scan.page import Action, Field, Row
from trace.scan.sight import STORES, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HEAVY, press

MOST_ROWS = 40


def count(sight: Sight) -> StockCount | None:
    """The open count of the place scanned."""
    if "counts" not in sight.looked:
        sight.looked["counts"] = [one for one in stock_counts() if one.ended is None]
    every: list[StockCount] = sight.looked["counts"]
    return next((one for one in every if one.place == sight.key("place")), None)


def there(sight: Sight) -> list[Standing]:
    one = count(sight)
    if one is None:
        return []
    if "standing" not in sight.looked:
        sight.looked["standing"] = standing(one)
    found: list[Standing] = sight.looked["standing"]
    return found


def slots(sight: Sight) -> tuple[Slot, ...]:
    place = Slot("place", ("place",), _("Scan the place to be counted"), clears=("thing", "counting"))
    if not sight.text("place"):
        return (place,)
    return (place, Slot("thing", COUNTED, _("Scan each thing that stands here"), optional=count(sight) is None))


def fields(sight: Sight) -> tuple[Field, ...]:
    hint = _("What you know of what is not found.")
    one = count(sight)
    if one is None:
        return ()
    # What is seen or ended is the count that was shown.
    return (Field("counting", "", "hidden", one.uid), Field("known", _("Why not found"), hint=hint))


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("place"):
        return ()
    if count(sight) is None:
        return (press("begin", _("Begin the count"), bare=False),)
    return (press("end", _("End the count"), "stop", below=True, bare=False),)


def commands(sight: Sight) -> Sequence[Command] | None:
    if not sight.text("place"):
        return None
    one = count(sight)
    uid = sight.text("counting") or (one.uid if one else "")
    if sight.do == "begin":
        return [BeginStockCount(place=sight.text("place"))]
    if sight.do == "end":
        return [EndStockCount(count=uid, reason=sight.text("known"))]
    if sight.text("thing") and uid:
        return [SeeStock(count=uid, code=sight.text("thing"))]
    return None


def rows(sight: Sight) -> tuple[Row, ...]:
    """How far the count is, then what is not seen yet, what was not expected, and what came meanwhile."""
    if count(sight) is None:
        return ()
    found = there(sight)
    missing, strange = [x for x in found if x.missing], [x for x in found if x.strange]
    tally = _("%(seen)d of %(all)d; not seen %(missing)d; not expected %(strange)d") % {
        "seen": sum(x.seen for x in found), "all": len(found), "missing": len(missing), "strange": len(strange),
    }  # fmt: skip
    shown = [*missing, *strange, *(x for x in found if x.came)][:MOST_ROWS]
    left = len(missing) + len(strange) + sum(x.came for x in found) - len(shown)
    more = (Row(_("And more"), _("%(n)d further ones") % {"n": left}, note=True),) if left > 0 else ()
    return (Row(_("Seen"), tally, note=True), *(_row(one) for one in shown), *more)


def _row(one: Standing) -> Row:
    name = one.name + (f" {printed(one.code)}" if one.code else "")
    much = say.amount(one.balance, one.uom) if one.kind == "content" and one.balance is not None else ""
    if one.strange:
        return Row(name, _("not expected here"), True)
    return Row(name, ", ".join(x for x in (much, _("came meanwhile")) if x), note=True) if one.came else Row(name, much)


def next_(sight: Sight) -> Next | None:
    if not sight.text("place"):
        return None
    if count(sight) is None:
        return Next(_("Begin the count of %(place)s") % {"place": sight.key("place")}, _("Work may go on meanwhile."))
    return Next(_("Scan each thing that stands here"), sight.key("place"), "scan")


STOCK_COUNT = Station(
    slug="stock-count",
    title=gettext_lazy("Stock count"),
    home=Home(STORES, 61, gettext_lazy("Count a place by scanning what stands in it")),
    roles=("stores", "warehouse", "lead", "quality", "deputy"),
    slots=slots,
    fields=fields,
    asks=lambda _sight: (),
    commands=commands,
    actions=actions,
    rows=rows,
    next=next_,
    place=lambda sight: sight.key("place"),
    keeps=("place",),
    caution=HEAVY,
    opens=lambda _sight, _found: False,
    half_done=False,
)
