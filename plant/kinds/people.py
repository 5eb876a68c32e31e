"""Kinds of plant data whose names can be erased, and who supplies: people, consignees, suppliers."""

from django.utils.translation import gettext_lazy as _

from plant.kinds.equipment import stations
from plant.kinds.kind import Kind
from plant.kinds.shapes import ByName, Day, Every, Field, OneOf, Ref, Text, Until, YesNo
from plant.roles import ROLES

# What a person can be signed off for; each is asked by an act of trace/recording/acts.
TASKS = ("goods-in", "weighing", "top-up", "loading", "oven", "demould", "inspection", "packing", "dispatch")

PERSON = Kind(
    "person", _("People"), _("person"), "plant_person", ("administrator",),
    (
        Field("roles", Every(OneOf(ROLES)), _("What the person may do."), needed=True),
        Field("trained", ByName(Day(), OneOf(TASKS)), _("What the person is signed off for, each to its last day.")),
        Field("only_on", Every(Ref("machine")), _("The ovens and arms that the sign-offs hold for; empty: all.")),
        Field("until", Until(), _("The last day in the plant; empty: no end.")),
        Field("day_badge", YesNo(), _("A badge for one shift, made by the shift lead."), by_station=True),
        Field("tasks", Every(OneOf(stations)), _("Of a day badge: the stations it opens."), by_station=True),
        Field("agency", Text(), _("Of a day badge: who sent the person."), by_station=True),
        Field("badge_of", Ref("person"), _("Of a day badge: who made it."), by_station=True),
    ),
    _("Somebody who signs on: roles and training."),
    named=True, labelled=True, summary=("roles",),
)  # fmt: skip

CONSIGNEE = Kind(
    "consignee", _("Consignees"), _("consignee"), "plant_consignee", ("administrator",), (),
    _("A dealer or owner that hulls are sent to."),
    named=True,
)  # fmt: skip

SUPPLIER = Kind(
    "supplier", _("Suppliers"), _("supplier"), "plant_supplier", ("administrator",),
    (
        Field("name", Text(), _("What people call it."), needed=True),
        Field("materials", Every(Ref("material")), _("What it may deliver."), needed=True),
    ),
    _("Who delivers, and what."),
    summary=("name", "materials"),
)  # fmt: skip
