"""Go-live: opening stock and old hulls enter as made before records; new tubs, boxes and vessels get their labels."""

from collections.abc import Sequence
from dataclasses import replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.recording.acts.opening import EmptyCarrier, OldHull, OpeningStock
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.scan.page import Field
from trace.scan.sight import STORES, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HEAVY, choice, consignees


def task(sight: Sight) -> str:
    return sight.text("task") or "stock"


def slots(sight: Sight) -> tuple[Slot, ...]:
    if task(sight) == "carriers":
        return ()
    return (Slot("place", ("place",), _("Scan the place"), optional=True),)


def fields(sight: Sight) -> tuple[Field, ...]:
    tasks = [("stock", _("Opening stock")), ("hull", _("Old hull")), ("carriers", _("New tubs and boxes"))]
    found = [replace(choice("task", _("What"), tasks, value=task(sight)), looks=True)]
    if task(sight) == "stock":
        found += [
            choice("material", _("Material"), sight.choices("material"), ask=_("Which material is it?")),
            Field("lot_no", _("Lot, if anybody knows it")),
            choice("supplier", _("Supplier, if anybody knows it"), sight.choices("supplier"), required=False),
            Field("amount", _("How much is in it"), "weight", required=True, hint=_("kg or pieces"),
                  ask=_("How much is in it?")),
            Field("expires", _("Use by"), "date"),
            Field("opened", _("Opened on, if it is open"), "date"),
            Field("quarantine", _("Not released: it waits in quarantine"), "checkbox"),
        ]
    elif task(sight) == "hull":
        found += [
            choice("product", _("Product"), sight.choices("product"), ask=_("Which model is it?")),
            Field("serial", _("Number on its plate"), required=True, ask=_("What number is on its plate?")),
            Field("colour", _("Colour")),
            Field("made", _("Made, if anybody knows"), "month", hint=_("as 2025-04")),
            choice("consignee", _("Gone to, if it is here no more"), consignees(sight), required=False),
            Field("gone", _("Gone on, if anybody knows"), "date"),
        ]
    else:
        kinds = [("tub", _("Tub")), ("drop_box", _("Drop box")), ("vessel", _("Vessel")), ("container", _("Box")),
                 ("returnable", _("Returnable box"))]  # fmt: skip
        found += [
            choice("carrier", _("Kind"), kinds, ask=_("What is it?")),
            Field("count", _("How many"), "count", required=True, ask=_("How many of them?")),
        ]
    return tuple(found)


def commands(sight: Sight) -> Sequence[Command] | None:
    if task(sight) == "stock":
        if not (sight.text("material") and sight.text("amount")):
            return None
        return [
            OpeningStock(
                material=sight.text("material"), lot_no=sight.text("lot_no"), amount=sight.text("amount"),
                supplier=sight.text("supplier"), expires=sight.text("expires"), opened=sight.text("opened"),
                quarantine=sight.text("quarantine") == "yes", place=sight.text("place"),
            )
        ]  # fmt: skip
    if task(sight) == "hull":
        if not (sight.text("product") and sight.text("serial")):
            return None
        return [
            OldHull(
                serial=sight.text("serial").upper(), product=sight.text("product"), colour=sight.text("colour"),
                made=sight.text("made"), consignee=sight.text("consignee"), gone=sight.text("gone"),
                place=sight.text("place"),
            )
        ]  # fmt: skip
    count = sight.text("count")
    if not (sight.text("carrier") and count):
        return None
    return [
        EmptyCarrier(
            carrier=sight.text("carrier"), count=int(count[:6]) if count.isascii() and count.isdecimal() else 0
        )
    ]


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    return {name: sight.text(name) for name in ("task", "material", "product", "place") if sight.text(name)}


OPENING = Station(
    slug="opening",
    title=gettext_lazy("Before records"),
    home=Home(STORES, 70, gettext_lazy("Opening stock, old hulls, new tubs and boxes")),
    roles=("stores", "lead", "administrator"),
    slots=slots,
    fields=fields,
    commands=commands,
    next=lambda sight: Next(
        _("Enter what stood here before the records began"), _("Traces will say so instead of ruling it out.")
    ),
    after=after,
    caution=HEAVY,
    labels="a4",
)
