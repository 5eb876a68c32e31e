"""Weighing the powder of one layer, and the daily check of a scale with its own mass."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import get_language, gettext_lazy
from django.utils.translation import gettext as _

from trace import lookup
from trace.codes import kg_to_mg, printed
from trace.drawings import ContainerDrawing, container_drawing
from trace.lookup import Weighed
from trace.readmodels.rows import moment
from trace.recording.acts.weighing import CheckWeight, Weigh, far_off, layer_of, same_charge
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor import words as say
from trace.recording.floor.standing import Found
from trace.scan.page import Field, Row
from trace.scan.sight import MATERIALS, MOULDING, Early, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import DUSTY, choice, material_words

BOX_RULES = ("SOURCE-EMPTY", "SOURCE-HELD", "SOURCE-NOT-RELEASED", "SOURCE-USED-UP", "SOURCE-EXPIRED",
             "SOURCE-OPEN-TOO-LONG", "LAYER-NOT-IN-RECIPE", "LAYER-MATERIAL")  # fmt: skip
TUB_RULES = ("TUB-FULL", "TUB-KIND")
SCALE_RULES = ("SCALE-OVERDUE", "SCALE-UNCHECKED", "SCALE-FAILED")
BLAMES = dict.fromkeys(BOX_RULES, "box") | dict.fromkeys(TUB_RULES, "tub") | dict.fromkeys(SCALE_RULES, "scale")


def layer_names(sight: Sight) -> list[str]:
    return [str(layer["name"]) for layer in sight.product().get("layers", [])]


class Ahead:
    """What stands weighed for an order and is in no mould yet, and what its open moulds have already."""

    def __init__(self, order: str, names: list[str]) -> None:
        self.names = names
        rows, in_open = lookup.weighed_ahead(order) if order else ([], [])
        self.standing = {one.layer: one for one in rows}
        # How many whole charges of each layer stand ready.
        self.ready = {name: self.standing[name].whole if name in self.standing else 0 for name in names}
        self.due = self._due(in_open)

    def _due(self, in_open: list[tuple[int, str | None]]) -> str:
        """The layer that is part weighed, else one that an open mould lacks, else the first of which the fewest stand
        ready; "" where the order has none."""
        begun = {one.begun: one.layer for one in self.standing.values() if one.begun and one.layer in self.names}
        fewest = min(self.names, key=lambda name: self.ready[name], default="")
        return begun[min(begun)] if begun else self._lacking(in_open) or fewest

    def _lacking(self, in_open: list[tuple[int, str | None]]) -> str:
        """The first layer that an open mould of the order lacks and that does not stand ready for it, the mould that is
        furthest on first; "" when none does."""
        loads: dict[int, set[str | None]] = {}
        for load, layer in in_open:
            loads.setdefault(load, set()).add(layer)
        there = dict(self.ready)
        for layers in sorted(loads.values(), key=len, reverse=True):
            for name in self.names:
                if name not in layers and there[name] == 0:
                    return name
                there[name] -= name not in layers
        return ""


def ahead(sight: Sight) -> Ahead:
    """Asked and reckoned once for what the page has looked up."""
    order = sight.key("order")
    if f"weighed for {order}" not in sight.looked:
        sight.looked[f"weighed for {order}"] = Ahead(order, layer_names(sight))
    found: Ahead = sight.looked[f"weighed for {order}"]
    return found


def layer_now(sight: Sight) -> str:
    """The layer chosen, else the one that is due."""
    names = layer_names(sight)
    chosen = sight.text("layer")
    return chosen if chosen in names or not names else ahead(sight).due


def recipe(sight: Sight, name: str) -> dict[str, str]:
    return layer_of(dict(sight.product()), name, str(sight.body("order").get("colour", "")))


def slots(sight: Sight) -> tuple[Slot, ...]:
    name = layer_now(sight)
    layer = recipe(sight, name)
    words = tuple(layer.get(key) for key in ("arrives", "material", "target_kg", "tolerance_kg"))
    return _slots(get_language(), name, *words)


# Asked several times for each scan, and the same from one to the next.
@lru_cache(maxsize=200)
def _slots(
    _language: str | None, name: str, arrives: str | None, material: str | None, target: str | None,
    tolerance: str | None,
) -> tuple[Slot, ...]:  # fmt: skip
    vessel = _("drop box") if arrives == "drop box" else _("tub")
    return (
        Slot("order", ("works_order",), _("Scan the works order"), clears=("layer", "box", "tub", "gross")),
        Slot("scale", ("scale",), _("Scan the scale")),
        Slot(
            "box", ("container", "vessel"),
            _("Scan the %(material)s box for the %(layer)s") % {"material": material or "powder", "layer": name},
            _("%(target)s ± %(tolerance)s kg") % {"target": target, "tolerance": tolerance} if target else "",
            clears=("gross",),
        ),
        Slot(
            "tub", ("tub", "drop_box"),
            _("Scan the %(vessel)s for the %(layer)s") % {"vessel": vessel, "layer": name},
            clears=("gross",),
        ),
    )  # fmt: skip


def fields(sight: Sight) -> tuple[Field, ...]:
    names = layer_names(sight)
    if not names:
        return ()
    found = []
    if sight.text("tub") and sight.text("box"):
        layer, scale = recipe(sight, layer_now(sight)), sight.body("scale")
        least, most = _limits(layer, in_tub(sight))
        found += [
            Field("gross", _("Gross"), "weight", unit="kg", required=True, step=str(scale.get("resolution", "")),
                  hint=_("%(least)s to %(most)s net") % {"least": least, "most": most}),
            Field("tare", _("Tare"), "weight", unit="kg", required=asks_tare(sight), ask=_("The tare, empty as it is"),
                  hint=_("0 if the scale was zeroed with the tub on it")),
            Field("part", _("More comes from another bag"), "checkbox"),
        ]  # fmt: skip
    layers = choice("layer", _("Layer"), [(n, n) for n in names], value=layer_now(sight))
    found.append(replace(layers, looks=True))
    return tuple(found)


def asks_tare(sight: Sight) -> bool:
    """Whether the tare is asked next: a plant that says what an empty tub weighs does not zero its scales with it."""
    tub = sight.one("tub")
    kind = "drop box" if tub is not None and "drop_box" in tub.kinds else "tub"
    return bool(sight.plant.setting(f"{kind} tare kg", ""))


def in_tub(sight: Sight) -> int:
    """What another bag gave this charge already, in mg."""
    tub = sight.one("tub")
    mine = tub is not None and tub.unit is not None and same_charge(tub, command(sight), sight.key("order"))
    return (tub.unit.balance or 0) if mine and tub and tub.unit else 0


def _limits(layer: dict[str, str], already: int) -> tuple[str, str]:
    target, tolerance = kg_to_mg(layer.get("target_kg", "0")) - already, kg_to_mg(layer.get("tolerance_kg", "0"))
    return say.kg(target - tolerance).removesuffix(" kg"), say.kg(target + tolerance).removesuffix(" kg")


def command(sight: Sight) -> Weigh:
    return Weigh(
        order=sight.text("order"), layer=layer_now(sight), box=sight.text("box"), tub=sight.text("tub"),
        scale=sight.text("scale"), gross=sight.text("gross"), tare=sight.text("tare") or "0",
        part=sight.text("part") == "yes", how="read" if sight.text("gross_how") == "read" else "typed",
    )  # fmt: skip


def commands(sight: Sight) -> Sequence[Command] | None:
    wanted = ("order", "scale", "box", "tub", "gross", *(("tare",) if asks_tare(sight) else ()))
    return [command(sight)] if all(sight.text(name) for name in wanted) else None


def early(sight: Sight) -> Early | None:
    """The box is judged when it is scanned, before anything of it is in the tub; so are scale and tub."""
    rules: tuple[str, ...] = SCALE_RULES if sight.text("scale") else ()
    if sight.text("order") and sight.text("box"):
        rules += BOX_RULES
    if sight.text("order") and sight.text("tub"):
        rules += TUB_RULES
    return (command(sight), rules) if rules else None


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    """Order and scale stay; the layer that is due comes, or the same one while more bags are to follow."""
    if sight.text("part") == "yes":
        return {"layer": layer_now(sight), "tub": sight.text("tub")}
    return {}


def whole(sight: Sight) -> bool:
    """Whether every layer of the order stands weighed and no other is begun."""
    counts = ahead(sight).ready if sight.text("scale") else {}
    return bool(counts) and min(counts.values()) > 0 and not (sight.text("box") or sight.text("tub"))


def onward(sight: Sight, found: Found) -> str:
    """What is weighed goes into a mould: the one scanned is loaded at its own station."""
    if "mould" not in found.kinds or found.dead or not whole(sight):
        return ""
    named = urlencode({"mould": found.code, "order": sight.text("order")})
    return f"{reverse('station', args=['load'])}?{named}"


def next_(sight: Sight) -> Next | None:
    if whole(sight):
        return Next(
            _("All layers stand weighed: load the mould"),
            _("Scan it here; or the %(material)s box to weigh another set")
            % {"material": recipe(sight, layer_now(sight)).get("material", _("powder"))},
        )
    if not all(sight.text(name) for name in ("order", "scale", "box", "tub")):
        return None
    layer = layer_now(sight)
    target, already = recipe(sight, layer), in_tub(sight)
    words = _("Weigh %(target)s for the %(layer)s")
    if already:
        words = _("Weigh %(target)s more for the %(layer)s: %(already)s are in")
    return Next(
        words
        % {
            "target": say.kg(kg_to_mg(target.get("target_kg", "0")) - already),
            "layer": layer,
            "already": say.kg(already),
        },
        _("%(material)s, ± %(tolerance)s kg. Type what the scale shows.")
        % {"material": target.get("material", ""), "tolerance": target.get("tolerance_kg", "?")},
    )


def rows(sight: Sight) -> tuple[Row, ...]:
    """What is held for this charge, then every layer of the order: what stands weighed and is in no mould yet."""
    if not sight.key("order"):
        return ()
    waiting = ahead(sight).standing
    found, due = _held(sight), layer_now(sight)
    for name in layer_names(sight):
        found.append(_layer_row(name, recipe(sight, name), waiting.get(name), now=name == due))
    return tuple(found)


def _layer_row(name: str, layer: Mapping[str, Any], there: Weighed | None, *, now: bool) -> Row:
    """One layer: the newest that stands weighed for it and how many do, else what the recipe wants."""
    if there is None:
        wanted = f"{layer.get('material', '')} {layer.get('target_kg', '')} ± {layer.get('tolerance_kg', '')} kg"
        return Row(name.capitalize(), wanted, False, "", None, now=now)
    last = there.newest
    more = _(" (%(n)d stand ready)") % {"n": there.count} if there.count > 1 else ""
    part = _("part weighed: ") if last.what == "part weighed" else ""
    detail = f"{part}{material_words(last)}, {printed(last.code)}{more}"
    return Row(name.capitalize(), detail, last.what == "weighed", there.who, last.when, now=now)


def _held(sight: Sight) -> list[Row]:
    """The box and the tub scanned for this charge, so that nobody has to remember them."""
    found = []
    for name, words in (("box", _("Box")), ("tub", _("Tub"))):
        one = sight.one(name)
        if one is not None:
            found.append(Row(words, f"{printed(one.code)}{_inside(one, told_left=name == 'box')}", True))
    return found


def _inside(one: Found, *, told_left: bool) -> str:
    """What is in it by the book, and how much of it where that helps."""
    unit = one.unit
    if unit is None:
        return ""
    lot = f" lot {unit.lot_no}" if unit.lot_no else ""
    inside = f", {unit.about.get('material', '')}{lot}" if unit.about else ""
    if told_left and unit.balance is not None:
        inside += ", " + _("%(amount)s left") % {"amount": say.amount(unit.balance, unit.uom)}
    return inside


def drawing(sight: Sight) -> ContainerDrawing | None:
    """The box that is drawn from, with what is left in it by the book."""
    found = sight.one("box")
    if found is None or found.unit is None or found.unit.uom != "mg" or not found.unit.amount:
        return None
    unit = found.unit
    colour = str(sight.plant.body("material", unit.about.get("material")).get("colour", ""))
    return container_drawing(
        "silo" if "vessel" in found.kinds else "octabin", filled=Decimal(unit.amount or 0) / 1_000_000,
        left=Decimal(unit.balance or 0) / 1_000_000, unit="kg", shares=(), colour=colour, width=400.0,
    )  # fmt: skip


def place(sight: Sight) -> str:
    return " · ".join(part for part in (sight.key("order"), sight.key("scale")) if part)


WEIGH = Station(
    slug="weigh",
    title=gettext_lazy("Weigh"),
    home=Home(MOULDING, 20, gettext_lazy("Weigh the powder of one layer")),
    roles=("operator", "lead"),
    slots=slots,
    fields=fields,
    commands=commands,
    early=early,
    blames=BLAMES,
    next=next_,
    rows=rows,
    drawing=drawing,
    place=place,
    keeps=("order", "scale"),
    after=after,
    onward=onward,
    caution=DUSTY,
    stops=MATERIALS,
)


# The daily check.

DOUBTED = "doubted"  # the figure that was given last


def check_slots(sight: Sight) -> tuple[Slot, ...]:
    return (Slot("scale", ("scale",), _("Scan the scale")),)


def check_fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("scale"):
        return ()
    hint = _("± %(tolerance)s kg passes") % {"tolerance": sight.body("scale").get("check_tolerance", "?")}
    step = str(sight.body("scale").get("resolution", ""))
    found = [Field("shown", _("The scale shows"), "weight", unit="kg", required=True, hint=hint, step=step)]
    if far_off(sight.text("shown"), str(sight.body("scale").get("check_mass", "0"))):
        needed = _("if it does show that")
        found.append(Field("again", _("The same a second time"), "weight", unit="kg", needed=needed))
    return tuple(found)


def check_commands(sight: Sight) -> Sequence[Command] | None:
    if not (sight.text("scale") and sight.text("shown")):
        return None
    shown = sight.text("shown")
    # The same figure given again, where it was doubted, is what the scale does show.
    again = sight.text("again") or (shown if sight.held.get(DOUBTED) == shown else "")
    sight.held[DOUBTED] = shown
    return [CheckWeight(scale=sight.text("scale"), shown=shown, again=again)]


def check_next(sight: Sight) -> Next | None:
    if not sight.text("scale"):
        return None
    mass = sight.body("scale").get("check_mass", "?")
    return Next(_("Place the %(mass)s kg mass and type what the scale shows") % {"mass": mass}, sight.key("scale"))


def _checked_today(sight: Sight, found: Found) -> bool:
    """Whether the scale passed its check-weight on this plant day: then it is scanned to weigh with it."""
    at, day = (found.checked or {}).get("checked_at"), sight.plant.calendar.day
    return bool(at and (found.checked or {}).get("passed") and day(moment(at)) == day(sight.now))


CHECK_WEIGHT = Station(
    slug="check-weight",
    title=gettext_lazy("Check weight"),
    home=Home(MOULDING, 10, gettext_lazy("Put the known weight on a scale")),
    roles=("operator", "lead"),
    slots=check_slots,
    fields=check_fields,
    asks=lambda sight: ("shown",),
    commands=check_commands,
    next=check_next,
    place=lambda sight: sight.key("scale"),
    opens=lambda sight, found: not _checked_today(sight, found),
)
