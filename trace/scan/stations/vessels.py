"""Topping up a vessel, proving one empty and clean, and counting what is in a container."""

from collections.abc import Sequence
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import AmountError, parse_amount
from trace.drawings import ContainerDrawing, container_drawing
from trace.recording.acts.counting import Count, far_under
from trace.recording.acts.draws import LARGEST_FILL
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.commands import Command
from trace.recording.floor import words as say
from trace.scan.page import Action, Field, Row
from trace.scan.sight import MATERIALS, STORES, Early, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import DUSTY, press, reason_of, why

# Everything that powder, parts or graphics are in.
HOLDING = ("container", "vessel", "roll", "returnable", "tub", "drop_box")
SOURCES = ("container", "vessel", "tub", "roll")
INTO = ("vessel", "container", "tub", "returnable", "drop_box", "roll")
RULES = ("SOURCE-EMPTY", "SOURCE-HELD", "SOURCE-NOT-RELEASED", "SOURCE-USED-UP", "SOURCE-EXPIRED",
         "SOURCE-OPEN-TOO-LONG", "MIXES-MATERIALS", "INTO-ITSELF")  # fmt: skip


def slots(sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("into", INTO, _("Scan what it goes into"), clears=("source", "amount")),
        Slot("source", SOURCES, _("Scan what it comes from"), _("Or press that the vessel is empty and clean.")),
    )


def unit_word(sight: Sight, name: str) -> str:
    found = sight.one(name)
    return "kg" if found is None or found.unit is None or found.unit.uom == "mg" else _("pieces")


def fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("source"):
        return ()
    unit = unit_word(sight, "source")
    mixes = [Field("commingle", _("Two lots are mixed on purpose"), "checkbox")]
    return (Field("amount", _("How much went in"), "weight", unit=unit, required=True), *mixes)


def command(sight: Sight) -> TopUp:
    return TopUp(
        source=sight.text("source"), into=sight.text("into"), amount=sight.text("amount"),
        commingle=sight.text("commingle") == "yes",
    )  # fmt: skip


def commands(sight: Sight) -> Sequence[Command] | None:
    if sight.do == "empty" and sight.text("into"):
        return [ProveEmpty(vessel=sight.text("into"))]
    return [command(sight)] if all(sight.text(n) for n in ("into", "source", "amount")) else None


def early(sight: Sight) -> Early | None:
    return (command(sight), RULES) if sight.text("into") and sight.text("source") else None


def actions(sight: Sight) -> tuple[Action, ...]:
    return (
        (press("empty", _("It is empty and cleaned"), "plain"),)
        if sight.text("into") and not sight.text("source")
        else ()
    )


def rows(sight: Sight) -> tuple[Row, ...]:
    found = []
    labels = {"into": _("Into %(code)s"), "source": _("From %(code)s"), "box": _("%(code)s, by the book")}
    for name, label in labels.items():
        one = sight.one(name)
        if one is not None:
            words = _("nothing by the book")
            if one.unit is not None:
                words = f"{say.lot_name(one.unit.about, one.unit.lot_no)}, {say.amount(one.unit.balance, one.unit.uom)}"
            found.append(Row(label % {"code": one.name}, words, note=True))
    return tuple(found)


def drawing(sight: Sight) -> ContainerDrawing | None:
    one = sight.one("into")
    if one is None or one.unit is None or one.unit.uom != "mg" or not one.unit.amount:
        return None
    colour = str(sight.plant.body("material", one.unit.about.get("material")).get("colour", ""))
    mg = Decimal(1_000_000)
    return container_drawing(
        "silo" if "vessel" in one.kinds else "octabin", filled=Decimal(one.unit.amount) / mg,
        left=Decimal(one.unit.balance or 0) / mg, colour=colour, width=400.0,
    )  # fmt: skip


TOP_UP = Station(
    slug="top-up",
    title=gettext_lazy("Top up"),
    home=Home(STORES, 50, gettext_lazy("Fill a silo, bin or hopper")),
    roles=("operator", "stores", "lead"),
    slots=slots,
    fields=fields,
    commands=commands,
    early=early,
    actions=actions,
    rows=rows,
    drawing=drawing,
    next=lambda sight: Next(_("Type how much went in")) if sight.text("source") else None,
    keeps=("into",),
    caution=DUSTY,
    stops=MATERIALS,
)


# Counting one container.


def count_slots(sight: Sight) -> tuple[Slot, ...]:
    boxes = ("container", "vessel", "roll", "returnable")
    return (Slot("box", boxes, _("Scan the container you counted"), clears=("amount", "again")),)


def count_fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("box"):
        return ()
    reasons = [("weighed", _("Weighed")), ("counted", _("Counted by hand")), ("spilt", _("Some was spilt"))]
    hint = _("without the container itself; 0 if nothing is left")
    unit = unit_word(sight, "box")
    found = [Field("amount", _("What is in it"), "weight", unit=unit, required=True, hint=hint)]
    if _is_far_under(sight):
        needed = _("if it is so")
        found.append(Field("again", _("The same a second time"), "weight", unit=unit, needed=needed))
    return (*found, why(reasons, ask=_("Why was it counted?")))


def _is_far_under(sight: Sight) -> bool:
    """Whether the figure typed is so far under the book that it is asked for once more."""
    found = sight.one("box")
    if found is None or found.unit is None or not sight.text("amount"):
        return False
    try:
        left = parse_amount(sight.text("amount"), found.unit.uom or "mg", LARGEST_FILL)
    except AmountError:
        return False
    return far_under(sight.plant, found.unit, left)


def count_commands(sight: Sight) -> Sequence[Command] | None:
    if not (sight.text("box") and sight.text("amount")):
        return None
    return [
        Count(
            box=sight.text("box"), amount=sight.text("amount"), again=sight.text("again"), reason=reason_of(sight)
        )
    ]  # fmt: skip


def count_next(sight: Sight) -> Next | None:
    found = sight.one("box")
    if found is None:
        return None
    inside = f", {say.lot_name(found.unit.about, found.unit.lot_no)}" if found.unit else ""
    words = _("Record what was counted") if sight.text("amount") else _("What is in it now?")
    return Next(words, f"{found.name}{inside}")


COUNT = Station(
    slug="count",
    title=gettext_lazy("Count"),
    home=Home(STORES, 60, gettext_lazy("Say how much is in a container now")),
    roles=("stores", "lead", "quality", "deputy"),
    slots=count_slots,
    fields=count_fields,
    commands=count_commands,
    rows=rows,
    actions=lambda sight: (press("count", _("Record the count")),) if sight.text("box") else (),
    next=count_next,
    caution=DUSTY,
)
