"""Giving containers back to their supplier, with the delivery note that goes with them."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.recording.acts.giving_back import GiveBack
from trace.recording.commands import Command
from trace.scan.page import Action, Field
from trace.scan.sight import MATERIALS, STORES, Early, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HEAVY, choice, press
from trace.scan.stations.vessels import rows, unit_word

RULES = ("SOURCE-EMPTY", "SOURCE-USED-UP", "GIVEN-BACK")


def slots(_sight: Sight) -> tuple[Slot, ...]:
    boxes = ("container", "roll", "returnable")
    return (Slot("box", boxes, _("Scan the container that goes back"), clears=("amount", "supplier")),)


def fields(sight: Sight) -> tuple[Field, ...]:
    found = sight.one("box")
    if found is None:
        return ()
    note = Field("note_no", _("Number of the delivery note"), required=True, ask=_("The delivery note's number?"))
    part = Field("amount", _("Only so much of it"), "weight", unit=unit_word(sight, "box"))
    known = found.unit is not None and found.unit.about.get("supplier")
    ask = _("Which supplier does it go back to?")
    supplier = () if known else (choice("supplier", _("Supplier"), sight.choices("supplier"), ask=ask),)
    return (note, *supplier, part, Field("known", _("Why it goes back")))


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("box"):
        return ()
    return (press("all", _("The whole container goes back"), needs=("note_no",), bare=False),)


def back(sight: Sight) -> GiveBack:
    everything = not sight.text("amount")
    return GiveBack(
        box=sight.text("box"), amount=sight.text("amount"), everything=everything, note_no=sight.text("note_no"),
        supplier=sight.text("supplier"), reason=sight.text("known"),
    )  # fmt: skip


def commands(sight: Sight) -> Sequence[Command] | None:
    said = sight.do == "all" or sight.text("amount")
    return [back(sight)] if sight.text("box") and said and sight.text("note_no") else None


def early(sight: Sight) -> Early | None:
    return (back(sight), RULES) if sight.text("box") else None


GIVE_BACK = Station(
    slug="give-back",
    title=gettext_lazy("Give back"),
    home=Home(STORES, 66, gettext_lazy("Give a container back to its supplier")),
    roles=("stores", "lead", "quality", "deputy"),
    slots=slots,
    fields=fields,
    commands=commands,
    early=early,
    actions=actions,
    rows=rows,
    next=lambda sight: Next(_("Does the whole container go back?")) if sight.text("box") else None,
    keeps=("note_no",),
    opens=lambda _sight, _found: False,  # who gives something back looks for the station, not for a container
    caution=HEAVY,
    stops=MATERIALS,
)
