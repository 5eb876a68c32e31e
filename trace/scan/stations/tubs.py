"""A weighed tub that its order does not take: tipped back, or for another order; scrapped at the station Scrap."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.recording.acts.tubs import ReassignTub, TipBack
from trace.recording.commands import Command
from trace.recording.floor import words as say
from trace.scan.page import Row
from trace.scan.sight import MATERIALS, MOULDING, Home, Sight, Slot, Station
from trace.scan.stations.parts import DUSTY


def slots(sight: Sight) -> tuple[Slot, ...]:
    tub = Slot("tub", ("tub", "drop_box"), _("Scan the weighed tub"))
    into = Slot("into", ("container", "returnable"), _("Scan the box it came from, or another order"),
                _("It goes back into the box, or is for that order from now on."))  # fmt: skip
    order = Slot("order", ("works_order",), "", optional=True)
    return (tub, into, order)


def commands(sight: Sight) -> Sequence[Command] | None:
    if not sight.text("tub"):
        return None
    if sight.text("order"):
        return [ReassignTub(tub=sight.text("tub"), order=sight.text("order"))]
    return [TipBack(tub=sight.text("tub"), into=sight.text("into"))] if sight.text("into") else None


def rows(sight: Sight) -> tuple[Row, ...]:
    tub = sight.one("tub")
    if tub is None:
        return ()
    words = _("nothing by the book")
    if tub.unit is not None:
        what = say.lot_name(tub.unit.about, tub.unit.lot_no)
        words = f"{what}, {say.amount(tub.unit.balance, tub.unit.uom)}, {tub.layer or ''} {tub.order or ''}".strip()
    return (Row(_("Tub %(code)s") % {"code": tub.name}, words, note=True),)


TUB = Station(
    slug="tub",
    title=gettext_lazy("Tub for something else"),
    home=Home(MOULDING, 25, gettext_lazy("Tip a weighed tub back, or give it to another order")),
    roles=("operator", "lead"),
    slots=slots,
    commands=commands,
    rows=rows,
    opens=lambda _sight, _found: False,  # a tub scanned at home is for loading
    caution=DUSTY,
    stops=MATERIALS,
)
