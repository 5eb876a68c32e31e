"""Kinds of plant data that say what is made and of what: products with their recipe, materials."""

from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as now_
from django.utils.translation import gettext_lazy as _

from plant.kinds.faults import Body, Fault, Others
from plant.kinds.kind import Kind
from plant.kinds.shapes import (
    COLOUR,
    ByName,
    Every,
    Field,
    Number,
    OneOf,
    Parts,
    Range,
    Ref,
    Text,
    Whole,
    YesNo,
)

# How far a drawing's paper may reach, either way, in its own units.
POINT = Whole(-100_000, 100_000)
WINDOW = _("The window it must stay in, [least, most].")

LAYER = Parts((
    Field("name", Text(), _("The layer's name, as the floor calls it."), needed=True),
    Field("material", Ref("material", {"kind": ("powder", "foam")}, by_colour=True),
          _("The material it is made of; {colour} stands for the colour of the order."), needed=True),
    Field("mixes", Every(Every(Ref("material", {"kind": ("powder", "foam")}, by_colour=True))),
          _("Mixes of materials that it takes besides.")),
    Field("target_kg", Number(), _("What is to be charged."), "kg", needed=True),
    Field("tolerance_kg", Number(), _("How far a charge may be off."), "kg", needed=True),
    Field("arrives", OneOf(("tub", "drop box")), _("What it is weighed into.")),
))  # fmt: skip
COOK = Parts((
    Field("ovens", Every(Ref("machine", {"kind": ("oven",)})), _("The ovens it may be cooked in."), needed=True),
    Field("stages", Every(Text()), _("What is done in the oven, in this order."), needed=True),
    Field("cooling", Every(Text()), _("What is done while it cools, in this order.")),
    Field("piat_c", Range(), _("Peak air temperature inside the mould, [least, most]."), "°C"),
    Field("demould_max_c", Number(), _("The hottest at which it may be demoulded."), "°C"),
    Field("set_c", Range(), WINDOW, "°C"),
    Field("arm_rpm", Range(), WINDOW, "rpm"),
    Field("plate_rpm", Range(), WINDOW, "rpm"),
    Field("ratio", Range(), _("arm / (plate − arm), [least, most].")),
))  # fmt: skip
DRAWING = Parts((
    Field("box", Every(POINT, many=2), _("Width and height of the paper."), needed=True),
    Field("outline", Text(), _("The outline from above, as SVG path data."), needed=True),
    Field("details", Every(Text()), _("Lines within the outline, as SVG path data.")),
    Field("positions", ByName(Every(POINT, many=2)), _("Where each insert sits: [x, y].")),
    Field("graphics", ByName(Every(POINT, many=4)), _("Where each graphic sits: [x, y, width, height].")),
    Field("zones", ByName(Every(POINT, many=2)), _("Where the wall is measured: [x, y].")),
))  # fmt: skip
GRAPHIC = Parts((
    Field("artwork", Text(), _("The artwork by its name."), needed=True),
    Field("revision", Text(), _("The revision of the artwork."), needed=True),
))
MASS = Parts((
    Field("flash_kg", Number(zero=True), _("What is trimmed off."), "kg"),
    Field("fittings_kg", Number(zero=True), _("What is fitted before it is weighed."), "kg"),
))
IMPACT = Parts((
    Field("below_zero_c", Number(zero=True), _("How far below 0 °C the specimen is."), "°C"),
    Field("within_c", Number(), _("How far it may be off that; 3 where it is not said."), "°C"),
    Field("dart", OneOf(("10 lb", "15 lb", "20 lb", "30 lb")), _("Which dart is dropped.")),
    Field("step_m", Number(), _("The step of the staircase."), "m", needed=True),
    Field("least_m", Number(), _("The least mean failure height that passes."), "m", needed=True),
    Field("fewest", Whole(), _("So many drops of the rarer outcome are counted at least; 5 where it is not said.")),
))
NUMBERING = Parts((
    Field("format", OneOf(("plant", "us")), _("plant: a prefix and six digits; us: 33 CFR 181.25."), needed=True),
    Field("prefix", Text(empty=True), _("What every plate of this product begins with.")),
    Field("maker", Text(), _("The maker's code on the plate.")),
))


def product_across(key: str, body: Body, others: Others) -> Iterator[Fault]:
    """What only shows beside other things: a prefix given twice, a graphic no material is, a colour there is not."""
    yield from _prefix_of_another(key, body, others)
    yield from _graphics_of_no_material(body, others)
    yield from _layers_without_colour(body)


def _graphics_of_no_material(body: Body, others: Others) -> Iterator[Fault]:
    """A graphic must be a material, by its artwork and revision: else none could be booked in."""
    graphics = body.get("graphics")
    made = {(m.body.get("artwork"), m.body.get("revision")) for m in others.of_kind("material") if not m.ended}
    for zone, wanted in graphics.items() if isinstance(graphics, dict) else ():
        artwork, revision = (wanted.get(x) for x in ("artwork", "revision")) if isinstance(wanted, dict) else ("", "")
        if artwork and revision and (artwork, revision) not in made:
            yield Fault(
                f"graphics {zone}",
                now_("“graphics %(zone)s” is %(artwork)s revision %(revision)s, and no material is that.")
                % {"zone": zone, "artwork": artwork, "revision": revision},
                now_("Nobody could book the graphic in, so no mould could be closed."),
                now_("Enter it under Materials first, or correct the revision."),
            )


def _layers_without_colour(body: Body) -> Iterator[Fault]:
    """A layer in the colour of the order needs a product that has colours."""
    for n, layer in enumerate(body["layers"] if isinstance(body.get("layers"), list) else (), 1):
        by_colour = isinstance(layer, dict) and "{colour}" in str(layer.get("material"))
        if by_colour and not body.get("colours"):
            yield Fault(
                f"layers {n}",
                now_("“layers %(n)d” is made in the colour of the order, and this product has no colours.") % {"n": n},
                now_("No material would ever fit it."),
                now_("Fill in “colours”, or name the material itself."),
            )


def _prefix_of_another(key: str, body: Body, others: Others) -> Iterator[Fault]:
    """A plate is known by its prefix: two products with one could not be told apart by it."""
    prefix = _numbering(body).get("prefix")
    if not isinstance(prefix, str) or not prefix.strip():
        return
    for other in others.of_kind("product"):
        if other.key != key and not other.ended and _numbering(other.body).get("prefix") == prefix:
            yield Fault(
                "hull_number prefix",
                now_("“hull_number prefix” is %(prefix)s, and so is that of product %(other)s.")
                % {"prefix": prefix, "other": other.key},
                now_("A plate would not say which of the two it is for."),
                now_("Give this product a prefix of its own."),
            )


def _numbering(body: Body) -> dict[str, Any]:
    found = body.get("hull_number")
    return found if isinstance(found, dict) else {}


PRODUCT = Kind(
    "product", _("Products"), _("product"), "plant_product", ("administrator",),
    (
        Field("name", Text(), _("What people call it."), needed=True),
        Field("area_m2", Number(), _("Area of the wall, for the thickness that a charge makes."), "m²", needed=True),
        Field("colours", ByName(COLOUR), _("Its colours, each with how it is drawn.")),
        Field("layers", Every(LAYER), _("The layers from the outside in."), needed=True),
        Field("inserts", ByName(Ref("material", {"kind": ("insert", "part")})), _("The part for each position.")),
        Field("graphics", ByName(GRAPHIC), _("The artwork for each place.")),
        Field("drawing", DRAWING, _("How the mould is drawn.")),
        Field("zones", ByName(Parts((Field("least_mm", Number(), _("Least thickness."), "mm", needed=True),))),
              _("Where the wall is measured, with the least thickness.")),
        Field("cook", COOK, _("How it is cooked and cooled.")),
        Field("cavities", Every(Text()), _("The cavities of its mould, by name.")),
        Field("hull_number", NUMBERING, _("How its plates are numbered."), needed=True),
        Field("month_on_plate", YesNo(), _("Whether the plate carries the month.")),
        Field("checks", Every(Text()), _("What an inspection looks at.")),
        Field("mass", MASS, _("What a hull weighs beside its charges.")),
        Field("impact", IMPACT, _("The cold impact test by staircase.")),
    ),
    _("A model with its recipe, drawing and plate."),
    summary=("area_m2",),
    across=product_across,
    example={
        "name": "", "area_m2": "5.2", "colours": {}, "layers": [
            {"name": "skin", "material": "", "target_kg": "12.20", "tolerance_kg": "0.10", "arrives": "tub"}
        ],
        "inserts": {}, "graphics": {}, "zones": {}, "cook": {"ovens": [], "stages": ["heat", "out"]},
        "cavities": ["1"], "hull_number": {"format": "plant", "prefix": ""}, "checks": ["surface"],
    },
)  # fmt: skip

MATERIAL = Kind(
    "material", _("Materials"), _("material"), "plant_material", ("administrator",),
    (
        Field("name", Text(), _("What people call it."), needed=True),
        Field("kind", OneOf(("powder", "foam", "insert", "graphic", "pigment", "part", "rod", "release agent")),
              _("What it is."), needed=True),
        Field("colour", COLOUR, _("How it is drawn.")),
        Field("density", Range(single=True), _("Density of the moulded layer; [least, most] where it is not sure."),
              "kg/m³"),
        Field("bulk_density", Number(), _("Density of the powder as it lies."), "kg/m³"),
        Field("shelf_days", Whole(), _("How long it keeps, closed."), "days"),
        Field("open_days", Whole(), _("How long it keeps once it is open."), "days"),
        Field("fill_tolerance", Number(zero=True), _("How far a filling may be off, as a share of it.")),
        Field("spec", ByName(Range()), _("Values a certificate must show, [least, most] each.")),
        Field("finish", Text(), _("The finish its certificate must name.")),
        Field("artwork", Text(), _("Of a graphic: its artwork.")),
        Field("revision", Text(), _("Of a graphic: the revision of its artwork.")),
    ),
    _("A powder, foam, insert, graphic, pigment, part or release agent that is bought."),
    summary=("kind", "density"),
    example={
        "name": "", "kind": "powder", "colour": "#9fb1ba", "density": "938", "bulk_density": "350",
        "fill_tolerance": "0.02", "spec": {"mfi": ["3.2", "3.8"]},
    },
)  # fmt: skip
