"""Racking: the rack once, what should stand in it, then one hull after the other."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from trace.recording.acts.packing import Rack
from trace.recording.commands import Command
from trace.recording.floor.hulls_there import HullThere, hulls_there
from trace.scan.page import Field, Row
from trace.scan.sight import EVERYTHING, FINISHING, Home, Sight, Slot, Station
from trace.scan.stations.parts import HEAVY, skipped, turning

MOST_ROWS = 40


def slots(sight: Sight) -> tuple[Slot, ...]:
    kinds = ("pack", "hull", "plate", "moulding", "container", "roll", "vessel")
    return (
        Slot("place", ("place",), _("Scan the rack or place"), clears=("units",)),
        Slot("units", kinds, _("Scan what you put there"), many=True),
    )


def commands(sight: Sight) -> Sequence[Command] | None:
    if not (sight.text("place") and sight.text("units")):
        return None
    levels = sight.text("levels")
    return [
        Rack(
            place=sight.text("place"), units=sight.codes("units"), weight=sight.text("weight"),
            levels=int(levels[:3]) if levels.isascii() and levels.isdecimal() else -1 if levels else 0,
        )
    ]  # fmt: skip


def fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("place"):
        return ()
    body = sight.body("place")
    found = []
    if body.get("max_kg"):
        found.append(
            Field(
                "weight", _("Weight on it now"), "weight", unit="kg", hint=_("takes %(kg)s kg") % {"kg": body["max_kg"]}
            )
        )
    if body.get("levels"):
        found.append(Field("levels", _("Stacked"), "count", hint=_("takes %(n)s levels") % {"n": body["levels"]}))
    return tuple(found)


def rows(sight: Sight) -> tuple[Row, ...]:
    """The hulls that by the records stand in the place, so many at once, before anything is scanned there."""
    place = sight.key("place")
    if not place:
        return ()
    first = skipped(sight)
    found, every = hulls_there(place, first, MOST_ROWS)
    words = ngettext("By the records %(n)d hull stands here", "By the records %(n)d hulls stand here", every)
    head = words % {"n": every} if every else _("By the records no hull stands here")
    return (Row(head, note=True), *(_row(one) for one in found), *turning(first, len(found), every))


def _row(one: HullThere) -> Row:
    state = ", ".join(word for word in (_("on hold") if one.held else "", state_words(one.status)) if word)
    return Row(one.serial, " · ".join((f"{one.model} {one.colour}".strip(), state)), note=True)


def state_words(status: str) -> str:
    words = {
        "bound": _("to inspect"), "failed inspection": _("failed its inspection"),
        "released": _("passed, to be packed"), "packed": _("packed"),
        "returned": _("came back: to inspect"), "repaired": _("repaired: to inspect"),
    }  # fmt: skip
    return words.get(status, status or _("state not recorded"))


RACK = Station(
    slug="rack",
    title=gettext_lazy("Rack"),
    home=Home(FINISHING, 50, gettext_lazy("Say where a hull stands")),
    roles=("warehouse", "lead"),
    slots=slots,
    fields=fields,
    commands=commands,
    rows=rows,
    place=lambda sight: sight.key("place"),
    keeps=("place",),
    leads="place",
    caution=HEAVY,
    stops=EVERYTHING,
)
