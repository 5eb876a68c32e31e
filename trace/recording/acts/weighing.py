"""Weighing: a charge of one layer, read off a scale, into a tub or drop box, for an order."""

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import AmountError, kg_to_mg, parse_amount, printed
from trace.codes.formulas import charge_volume_l
from trace.genealogy.mixes import materials_of
from trace.readmodels.rows import Rows, moment, stamp
from trace.recording.acts.draws import draw, source_facts
from trace.recording.commands import Command, Facts, Told, handles, scanned
from trace.recording.floor import words as say
from trace.recording.floor.changes import Stood
from trace.recording.floor.standing import Floor, Found, UnitFacts
from trace.recording.floor.weighed import checks_about, is_drawn_into, weighed_about

LARGEST_CHARGE = Decimal(500)
# What a person does whose charge came out of two boxes.
REST = "type what came from it alone, tick “More comes from another bag”, send, and scan the next box"
CHECK_FAILS = "CHECK-WEIGHT-FAILS"
FAR_OFF = Decimal("0.02")  # of the check mass: scales drift by less, slips of the hand are larger; no source


@dataclass(frozen=True, kw_only=True)
class CheckWeight(Command):
    """The daily check of a scale with its own mass. shown: what it displays, in kg.

    One that fails reaches back: what was weighed since the scale last passed is held. No weighing may run beside it.
    again: the same figure typed once more, where the first was so far off that it may be a slip of the hand.
    """

    KIND = "check_weighed"
    NAME = noop("check weight")
    ALONE = True

    scale: str = scanned("scale")
    shown: str
    again: str = ""

    @staticmethod
    def told(e: Told) -> str:
        return _("Scale %(scale)s checked: it shows %(shown)s kg") % e.says


def far_off(shown: str, mass: str) -> bool:
    """True when a scale shows so much else than its check mass that it is typed twice before it counts as failed."""
    try:
        return abs(_check_off(shown, mass)) > FAR_OFF * kg_to_mg(mass)
    except AmountError:
        return False


def check_facts(c: CheckWeight, floor: Floor) -> Facts:
    try:
        parse_amount(c.shown, "mg", LARGEST_CHARGE)
    except AmountError as error:
        return {"typed": {"trouble": str(error)}}
    body = floor[c.scale].body
    off = _check_off(c.shown, body.get("check_mass", "0"))
    tolerance = kg_to_mg(body.get("check_tolerance", "0"))
    return {
        "typed": {"trouble": ""},
        "scale": {
            "key": floor[c.scale].key,
            "check_fails": abs(off) > tolerance,
            "off": say.mass(abs(off)),
            "mass": body.get("check_mass", "?"),
            "shown": c.shown,
            "check_doubtful": abs(off) > tolerance
            and far_off(c.shown, body.get("check_mass", "0"))
            and _decimal(c.again) != _decimal(c.shown),
        },
    }


def _check_off(shown: str, mass: str) -> int:
    return parse_amount(shown, "mg", LARGEST_CHARGE) - kg_to_mg(mass)


@handles(CheckWeight, check_facts)
def check_weight(c: CheckWeight, floor: Floor, rows: Rows) -> str:
    scale = floor[c.scale]
    passed = not check_facts(c, floor)["scale"]["check_fails"]
    doubtful = [] if passed else weighed_about(scale.key, floor.happened, CHECK_FAILS)
    for charge in doubtful:
        rows.hold(charge, CHECK_FAILS)
    rows.instrument(scale.key, floor.happened, passed)
    rows.resource("instrument", scale.key, "checked")
    rows.reading("check-weight", c.shown, "kg", instrument=scale.key)
    said = f"scale {scale.key}: {c.shown} kg for {scale.body.get('check_mass')} kg, {'pass' if passed else 'fail'}"
    held = "1 charge" if len(doubtful) == 1 else f"{len(doubtful)} charges"
    return f"{said}; held since its last pass: {held}" if doubtful else said


@dataclass(frozen=True, kw_only=True)
class Weigh(Command):
    """Powder for one layer of one moulding. gross and tare as displayed, in kg.

    part: another bag follows into the same tub. how: read, photographed or typed, marked so for ever.
    """

    KIND = "weighed"
    NAME = noop("weigh")
    TASK = "weighing"
    AS_IT_WAS = ("box", "tub")
    INTO_EMPTY = "tub"

    order: str = scanned("works_order")
    layer: str
    box: str = scanned("container", "vessel")
    tub: str = scanned("tub", "drop_box")
    scale: str = scanned("scale")
    gross: str
    tare: str = "0"
    part: bool = False
    how: str = "typed"

    @staticmethod
    def told(e: Told) -> str:
        try:
            net = say.amount(kg_to_mg(e.says["gross"]) - kg_to_mg(e.says["tare"]), "mg")
        except ValueError:
            net = f"{e.says['gross']} – {e.says['tare']} kg"
        more = _(", more to come") if e.says.get("part") else ""
        return _("%(layer)s weighed: %(net)s from %(box)s%(more)s") % {
            "layer": str(e.says["layer"]).capitalize(), "net": net, "box": printed(e.says["box"]), "more": more,
        }  # fmt: skip


def layer_of(product: Facts, name: str, colour: str) -> Facts:
    """The recipe's layer with its material in this colour, and the mixes that it takes besides; or {}."""
    for layer in product.get("layers", []):
        if layer["name"] == name:
            mixes = [[str(m).format(colour=colour) for m in mix] for mix in layer.get("mixes", [])]
            return {**layer, "material": layer["material"].format(colour=colour), "mixes": mixes}
    return {}


def takes(layer: Facts, about: Facts) -> bool:
    """True when the recipe's layer is made of this material. A mix fits none that does not name it."""
    found = materials_of(about)
    return found == [layer.get("material")] or found in [sorted(mix) for mix in layer.get("mixes", [])]


def scale_facts(found: Found, floor: Floor) -> Facts:
    """A weighing is judged by the last check-weight before it; one told late also by the first after it."""
    body, now, day = found.body, floor.day, floor.plant.calendar.day
    before, after = found.checked, None
    if before and before["checked_at"] and moment(before["checked_at"]) > floor.happened:
        before, after = checks_about(found.key, floor.happened)
    at = moment(before["checked_at"]) if before and before["checked_at"] else None
    failed = at is not None and not (before or {}).get("passed")
    due = body.get("calibration_due")
    return {
        "key": found.key,
        "overdue": not due or str(due) < now.isoformat(),
        "due": due or "never calibrated",
        "checked": at is not None and day(at) == now,
        "day": "today" if now == day(floor.now) else f"on {now:%-d %b}",
        "failed": failed,
        "failed_at": say.clock(at) if at else "",
        "fails_next": bool(after and not after["passed"]) and not failed,
        "next_at": say.clock(after["checked_at"]) if after else "",
        "mass": body.get("check_mass", "check"),
    }


# Where nothing was weighed no scale is asked about.
NO_SCALE = {
    "key": "", "overdue": False, "due": "", "checked": True, "day": "", "failed": False, "failed_at": "",
    "fails_next": False, "next_at": "", "mass": "",
}  # fmt: skip


def net_mg(c: Weigh) -> int:
    return parse_amount(c.gross, "mg", LARGEST_CHARGE) - parse_amount(c.tare, "mg", LARGEST_CHARGE)


def _net(c: Weigh) -> tuple[int, str]:
    """(net in mg, why what was typed cannot be a weighing); a net that cannot be read is 0."""
    try:
        net = net_mg(c)
    except AmountError as error:
        return 0, str(error)
    return net, f"{c.gross} kg gross with {c.tare} kg tare leaves nothing: weigh again." if net <= 0 else ""


def _layer_facts(c: Weigh, order: Found, layer: Facts, box: UnitFacts | None) -> Facts:
    """The layer of the recipe that a charge is for, and whether it is made of what is in the box."""
    return {
        "name": c.layer,
        "known": bool(layer),
        "material": layer.get("material", "nothing"),
        "takes": box is not None and takes(layer, box.about),
        "product": order.body.get("product", "unknown"),
        "arrives": layer.get("arrives", "tub"),
        "target": say.kg(kg_to_mg(layer.get("target_kg", "0"))),
    }


def _tub_facts(c: Weigh, floor: Floor, layer: Facts, already: int, trouble: str) -> Facts:
    """Whether the charge may go into this tub: its kind, what is in it, its room and its tare. already: mg of this
    charge in it before."""
    tub = floor[c.tub]
    kind = "drop box" if "drop_box" in tub.kinds else "tub"
    volume = _volume_l(floor, layer, kg_to_mg(layer.get("target_kg", "0")))
    room = _decimal(str(floor.plant.setting(f"{kind} litres", "")))
    empty = _decimal(str(floor.plant.setting(f"{kind} tare kg", "")))
    return {
        "name": tub.name,
        "kind": kind,
        "full": tub.unit is not None and not same_charge(tub, c, floor[c.order].key),
        "holds": _content(tub.unit) if tub.unit else "nothing",
        "wrong_kind": bool(layer) and (layer.get("arrives") == "drop box") != (kind == "drop box"),
        "litres": f"{volume:.1f}" if volume else "0",
        "too_small": volume is not None and room is not None and volume > room,
        "room": str(room) if room is not None else "unknown",
        "tare": c.tare[:20],
        "empty_kg": str(empty) if empty is not None else "unknown",
        "odd_tare": not trouble and empty is not None and _odd_tare(c, floor, empty, already),
    }


def _display_facts(c: Weigh, scale: Found, trouble: str) -> Facts:
    """Which of the figures typed lie between two steps of the scale's display."""
    finer = [f"{text} kg" for text in (c.gross, c.tare) if not trouble and _finer(text, scale)]
    return {
        "finer": bool(finer),
        "finer_which": " and ".join(finer),
        "step": scale.body.get("resolution", "?"),
    }


def _charge_facts(c: Weigh, floor: Floor, layer: Facts, net: int, already: int, trouble: str) -> Facts:
    """By how much the whole charge is off the layer's target, all in mg until it is said."""
    target, tolerance = kg_to_mg(layer.get("target_kg", "0")), kg_to_mg(layer.get("tolerance_kg", "0"))
    off = already + net - target
    return {
        "net": say.kg(already + net),
        "over": not trouble and bool(layer) and off > tolerance,
        "under": not trouble and bool(layer) and not c.part and off < -tolerance,
        "off": say.mass(abs(off)),
        "part": c.part,
        "another_lot": already > 0 and _another_lot(floor[c.box], floor[c.tub]),
        "tolerance": say.grams(tolerance),
    }


def weigh_facts(c: Weigh, floor: Floor) -> Facts:
    order, tub = floor[c.order], floor[c.tub]
    product = floor.plant.body("product", order.body.get("product"))
    layer = layer_of(product, c.layer, order.body.get("colour", ""))
    net, trouble = _net(c)
    already = tub.unit.balance or 0 if tub.unit and same_charge(tub, c, order.key) else 0
    return {
        "typed": {"trouble": trouble},
        "box": source_facts(floor[c.box], floor, net, rest=REST),
        "layer": _layer_facts(c, order, layer, floor[c.box].unit),
        "tub": _tub_facts(c, floor, layer, already, trouble),
        "scale": scale_facts(floor[c.scale], floor) | _display_facts(c, floor[c.scale], trouble),
        "charge": _charge_facts(c, floor, layer, net, already, trouble),
    }


def _content(charge: UnitFacts) -> str:
    """The material of a charge and its lots; one weighed from several bags has no lot number of its own."""
    lots = sorted({str(e["lot_no"]) for e in charge.inside})
    if charge.lot_no or len(charge.inside) <= 1:
        return say.lot_name(charge.about, charge.lot_no)
    material = charge.about.get("material", "unknown material")
    # A part that was weighed from several bags itself is one whose lots are not all named here.
    return f"{material} of several lots" if "None" in lots else f"{material} lots {' and '.join(lots)}"


def _in_already(box: Found, tub: Found) -> bool:
    return bool(box.unit and tub.unit and is_drawn_into(box.unit.id, tub.unit.id))


def _lots(charge: UnitFacts) -> set[str]:
    return {str(e["lot_no"]) for e in charge.inside} or {str(charge.lot_no)}


def _another_lot(box: Found, tub: Found) -> bool:
    """Whether the bag brings a lot that is not in the charge. That another bag follows was said before it came: only a
    plant that wants no two lots in one charge sets the rule that asks this."""
    if not (box.unit and tub.unit) or _in_already(box, tub):
        return False
    return str(box.unit.lot_no) not in _lots(tub.unit)


def same_charge(tub: Found, c: Weigh, order: str) -> bool:
    return bool(tub.unit and tub.unit.status == "part weighed" and tub.order == order and tub.layer == c.layer)


def _odd_tare(c: Weigh, floor: Floor, empty: Decimal, already: int) -> bool:
    """True when the tare is that of the empty tub neither alone nor with what is in it already."""
    apart = _decimal(str(floor.plant.setting("tare tolerance kg", "0.2"))) or Decimal(0)
    tare = parse_amount(c.tare, "mg", LARGEST_CHARGE)
    return all(abs(Decimal(tare - inside) / 1_000_000 - empty) > apart for inside in (0, already))


def _finer(text: str, scale: Found) -> bool:
    """True for a figure that lies between two steps of the scale's display."""
    step = _decimal(str(scale.body.get("resolution", "")))
    return bool(step and step > 0 and Decimal(parse_amount(text, "mg", LARGEST_CHARGE)) / 1_000_000 % step)


def _decimal(text: str) -> Decimal | None:
    try:
        value = Decimal(text)
    except InvalidOperation:
        return None
    return value if value.is_finite() else None


def _volume_l(floor: Floor, layer: Facts, target: int) -> Decimal | None:
    density = floor.plant.body("material", layer.get("material")).get("bulk_density")
    if not density or not target:
        return None
    return charge_volume_l(Decimal(target) / 1_000_000, Decimal(density))


@handles(Weigh, weigh_facts)
def weigh(c: Weigh, floor: Floor, rows: Rows) -> str:
    order, box, tub = floor[c.order], floor[c.box], floor[c.tub]
    net = net_mg(c)
    product = floor.plant.get("product", order.body.get("product"))
    before = tub.unit if same_charge(tub, c, order.key) else None
    already = before.balance or 0 if before else 0
    material = (box.unit.about if box.unit else {}).get("material")
    same_lot = box.unit and (before is None or before.about.get("lot") == box.unit.about.get("lot"))
    charge = rows.unit(
        "charge", amount=already + net, uom="mg", carrier=tub.carrier,
        lot_no=box.unit.lot_no if box.unit and same_lot else None,
        about={
            "material": material, "lot": box.unit.about.get("lot") if box.unit and same_lot else None,
            "order": order.key, "product": order.body.get("product"), "recipe": product.version if product else None,
            "layer": c.layer, "shown": c.gross, "tare": c.tare, "how": c.how,
        },
        status="part weighed" if c.part else "weighed",
    )  # fmt: skip
    if before:
        if already > 0:
            rows.edge(charge, before.uid, "heel", amount=already, uom="mg", layer=c.layer)
        rows.status(before.uid, "topped up", at=stamp(floor.now))
    elif tub.unit:
        # Told of a tub that was full by the book: if it still was, that is in there too.
        rows.edge(charge, tub.unit.uid, "heel", layer=c.layer)
    draw(rows, floor, box, charge, "draw", net, layer=c.layer)
    put_into_tub(rows, floor, tub, charge, order.key, c.layer)
    rows.resource("instrument", floor[c.scale].key, "scale")
    rows.resource("works_order", order.key, "order")
    rows.reading("gross", c.gross, "kg", unit=charge, instrument=floor[c.scale].key)
    if c.tare != "0":
        rows.reading("tare", c.tare, "kg", unit=charge, instrument=floor[c.scale].key)
    more = ", more to come" if c.part else ""
    lots = sorted(_lots(before) | {str(box.unit.lot_no)}) if before and already and box.unit else []
    # A charge of one lot is that of the box just scanned; of several, all are said.
    mixed = f" of lots {' and '.join(lots)}" if len(lots) > 1 and "None" not in lots else ""
    return f"{c.layer}: {say.kg(already + net)} of {material}{mixed} for {order.key}{more}"


def put_into_tub(rows: Rows, floor: Floor, tub: Found, charge: str, order: str, layer: str) -> None:
    """The tub holds the charge from now on, unless a later charge already stands in it: then a person must look."""
    if tub.late:
        floor.changes.stood.append(Stood(tub.carrier or "", tub.then or floor.happened, charge))
    else:
        rows.fill(tub.carrier or "", charge, floor.since(tub), order=order, layer=layer)
