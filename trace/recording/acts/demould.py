"""Demould and serial binding: the moulding leaves the mould, and the plate is bound to it."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.genealogy.charged import charged
from trace.readmodels.rows import Rows
from trace.recording.acts.cook import COOLING_AGAIN, IN_AGAIN
from trace.recording.acts.corrections import live_edges_into
from trace.recording.acts.joining import joins_bound
from trace.recording.acts.loading import went_on
from trace.recording.commands import Command, Facts, Told, handles, scanned, scanned_list, words
from trace.recording.floor.first_shots import shot_of
from trace.recording.floor.moulds import mould_facts, mould_row, shots_after
from trace.recording.floor.readings import charged_trouble, mass_facts, mass_trouble
from trace.recording.floor.scopes_on_hold import rule_of
from trace.recording.floor.standing import Floor, Found, UnitFacts
from trace.recording.told_late.at_that_time import bound_since, stage_at


@dataclass(frozen=True, kw_only=True)
class Demould(Command):
    """The mould is opened: one moulding per cavity (a twin gives two), each with its moulding number."""

    KIND = "demoulded"
    NAME = noop("demould")
    TASK = "demould"

    mould: str = scanned("mould")

    @staticmethod
    def told(e: Told) -> str:
        numbers = [row["lot_no"] for row in e.part("units") if row["kind"] == "moulding"]
        return _("Demoulded: moulding %(numbers)s") % {"numbers": ", ".join(numbers)}


def demould_facts(c: Demould, floor: Floor) -> Facts:
    found = floor[c.mould]
    shot = shot_of(found, floor)
    production = (found.load.about if found.load else {}).get("purpose", "production") == "production"
    return {
        "mould": mould_facts(found, floor),
        # Trials and purges are marked as what they are, and released to nobody.
        "shot": {"first": shot.number > 0 and production, "number": shot.number, "of": shot.most, "after": shot.after},
    }


@handles(Demould, demould_facts)
def demould(c: Demould, floor: Floor, rows: Rows) -> str:
    found = floor[c.mould]
    load = found.load
    assert load is not None  # noqa: S101
    state = found.mould or {}
    product = floor.plant.product_of(load.about)
    cavities = [str(x) for x in found.body.get("cavities") or product.get("cavities") or ["1"]]
    cycle = state.get("cycle_number") or "no cycle"
    numbers = []
    for cavity in cavities:
        number = f"{cycle}/{(state.get('arm') or 'no arm')}/{found.key}/{cavity}"
        purpose = load.about.get("purpose", "production")
        moulding = rows.unit(
            "moulding", lot_no=number, about={**load.about, "load": load.uid, "cavity": cavity},
            status="to bind" if purpose == "production" else purpose, place="DEMOULD",
        )  # fmt: skip
        rows.edge(moulding, load.uid, "cavity", position=cavity)
        if not state.get("cycle"):
            rows.gap(moulding, "cycle", "")
        numbers.append(number)
    went_on(rows, load, floor)
    rows.status(load.uid, "demoulded")
    # Plates put on from this mould since then were meant for what is told of only now, or were not.
    for hull in bound_since(found.key, floor.happened) if floor.by.mode == "tells" else []:
        rows.discrepancy("its plate was bound after a moulding that was told of later", hull)
        rows.hold(hull, "MOULDING-WHICH")
    rows.resource("mould", found.key, "mould")
    rows.mould(found.key, **mould_row(found, stage="empty", load=None, cycle=None, order=None, **shots_after(found)))
    return f"moulding {', '.join(numbers)}"


@dataclass(frozen=True, kw_only=True)
class Bind(Command):
    """A plate is bound to the moulding just out of this mould (or to one named by its number).

    mouldings: two or more make one hull (joined). cavity: which of a twin. mass: as-moulded, in kg, if weighed.
    """

    KIND = "bound"
    NAME = noop("bind plate")
    TASK = "demould"
    LOCKS_WAITING = True

    mould: str = scanned("mould", optional=True)
    mouldings: tuple[str, ...] = scanned_list("moulding", "part")
    plate: str = scanned("plate")
    cavity: str = ""
    mass: str = ""

    @staticmethod
    def told(e: Told) -> str:
        mass = _(", %(kg)s kg as moulded") % {"kg": e.says["mass"]} if e.says.get("mass") else ""
        return _("Plate %(plate)s bound%(mass)s") % {"plate": e.says["plate"], "mass": mass}


def to_bind(c: Bind, floor: Floor) -> list[UnitFacts]:
    """The mouldings this plate is for: those named, else the last that came out of the mould (in its cavity)."""
    named = [f.unit for f in floor.list(c.mouldings) if f.unit]
    return named or _waiting(c, floor)[-1:]


def _waiting(c: Bind, floor: Floor) -> list[UnitFacts]:
    """Those that waited at the mould when the plate was bound, in the order in which they came out."""
    if not c.mould:
        return []
    return [
        u
        for u in floor[c.mould].waiting
        if (not c.cavity or u.about.get("cavity") == c.cavity) and u.made <= floor.happened
    ]


def _still_inside(c: Bind, floor: Floor) -> bool:
    """True when the mould held a load cooked since: the moulding meant may be the one whose demoulding is not told."""
    if not c.mould or c.mouldings:
        return False
    load, stage = floor[c.mould].load, (floor[c.mould].mould or {}).get("stage")
    if load is None or stage != "to demould" or load.made > floor.happened:
        return False
    return floor.by.mode == "asks" or stage_at(load.id, floor.happened) == stage


def _moulding_facts(c: Bind, floor: Floor, units: list[UnitFacts]) -> Facts:
    """The mouldings that a plate is for, and how long they have waited for it."""
    waiting = [str(u.lot_no) for u in _waiting(c, floor)]
    if waiting and _still_inside(c, floor):
        waiting.append("the one cooked since, by the record still in the mould")
    products = {str(u.about.get("product")) for u in units}
    colours = sorted({str(u.about.get("colour") or "no colour") for u in units})
    minutes = int((floor.happened - min(u.made for u in units)).total_seconds() // 60) if units else 0
    limit = int(floor.plant.setting("bind within minutes", 30))
    return {
        "none": not units,
        "minutes": minutes,
        # Within no minutes at all: every plate is bound too late.
        "late": not limit or minutes > limit,
        "several": not c.mouldings and len(waiting) > 1,
        "waiting": ", ".join(waiting),
        "product": " and ".join(sorted(products)) or "no moulding",
        "colours": " and ".join(colours),
        "colours_differ": len(colours) > 1,
        "bound": any(u.gone_into for u in units),
        "not_production": any(u.status != "to bind" for u in units),
        "status": (units[0].status if units else None) or "unknown",
    }


def used_up(plate: Found) -> bool:
    """Whether a plate is on a hull, or was and never comes back."""
    return plate.hull is not None or (plate.serial or {}).get("standing") in ("bound", "destroyed", "replaced")


def plate_facts(plate: Found, products: set[str], build_month: str) -> Facts:
    """A plate as its number stands, beside what it is for and the month in which that was built."""
    serial = plate.serial or {}
    month = serial.get("month")
    return {
        "text": plate.code,
        "used": used_up(plate),
        "standing": serial.get("standing", "unknown"),
        "not_out": not used_up(plate) and serial.get("standing") != "out",
        "product": serial.get("product", "unknown"),
        "other_product": bool(products - {str(serial.get("product"))}),
        "month": month or "no month",
        "other_month": bool(month) and month != build_month,
        "build_month": build_month,
    }


def _plate_facts(plate: Found, floor: Floor, units: list[UnitFacts]) -> Facts:
    """The build month is that in which the moulding came out, however late its plate is put on."""
    day = floor.plant.calendar.day(max((u.made for u in units), default=floor.happened))
    return plate_facts(plate, {str(u.about.get("product")) for u in units}, f"{day:%Y-%m}")


def bind_facts(c: Bind, floor: Floor) -> Facts:
    units = to_bind(c, floor)
    moulding, plate = _moulding_facts(c, floor, units), _plate_facts(floor[c.plate], floor, units)
    trouble, put_in = mass_trouble(c.mass), charged([u.id for u in units]) if c.mass else None
    if c.mass and not trouble:
        trouble = charged_trouble(c.mass, put_in)
    return {
        "typed": {"trouble": trouble},
        "moulding": moulding,
        "mass": mass_facts(c.mass, [floor.plant.product_of(u.about) for u in units], put_in),
        "plate": plate,
    }


@handles(Bind, bind_facts)
def bind(c: Bind, floor: Floor, rows: Rows) -> str:
    units, plate = to_bind(c, floor), floor[c.plate]
    first = units[0]
    hull = rows.unit(
        "hull", about={k: v for k, v in first.about.items() if k != "load"}, status="bound", place="DEMOULD"
    )
    for unit in units:
        rows.edge(hull, unit.uid, "bind" if len(units) == 1 else "join")
        rows.status(unit.uid, "bound")
    _put_on(rows, hull, plate)
    for scope in joins_bound(units, floor):
        rows.hold(hull, rule_of(scope.number))
    if c.mass:
        rows.reading("as moulded", c.mass, "kg", unit=hull)
    if c.mould:
        rows.resource("mould", floor[c.mould].key, "mould")
    return f"plate {plate.code} on moulding {first.lot_no}"


def _put_on(rows: Rows, hull: str, plate: Found) -> None:
    """The plate is this hull's. One that is told of twice stays with its first hull: a person must look."""
    if used_up(plate):
        rows.gap(hull, "plate", plate.code)
        return
    if plate.unit and plate.unit.kind == "plate":
        rows.edge(hull, plate.unit.uid, "plate")
        rows.status(plate.unit.uid, "bound")
    rows.serial_stands(plate.code, "bound", hull)


@dataclass(frozen=True, kw_only=True)
class Cut(Command):
    """One moulding is cut into parts (hatch lids): each part can become a product of its own."""

    KIND = "cut"
    NAME = noop("cut")

    moulding: str = scanned("moulding")
    parts: tuple[str, ...]

    @staticmethod
    def told(e: Told) -> str:
        return _("Moulding %(code)s cut into parts") % {"code": printed(str(e.says.get("moulding", "")))}


def cut_facts(c: Cut, floor: Floor) -> Facts:
    unit = floor[c.moulding].unit
    return {
        "cut": {
            "parts": len(c.parts),
            "too_few": len(set(c.parts)) < 2 or len(set(c.parts)) < len(c.parts),
            "bound": bool(unit and unit.gone_into),
            "unfit": bool(unit and unit.status in ("scrapped", IN_AGAIN, COOLING_AGAIN)),
            "status": (unit.status if unit else None) or "unknown",
        }
    }


@handles(Cut, cut_facts)
def cut(c: Cut, floor: Floor, rows: Rows) -> str:
    unit = floor[c.moulding].unit
    assert unit is not None  # noqa: S101
    for name in c.parts:
        part = rows.unit(
            "part", lot_no=f"{unit.lot_no}/{name}", about={**unit.about, "part": name}, status="to bind",
            place="DEMOULD",
        )  # fmt: skip
        rows.edge(part, unit.uid, "cut", position=name)
    rows.status(unit.uid, "cut")
    return f"{unit.lot_no} cut into {', '.join(c.parts)}"


@dataclass(frozen=True, kw_only=True)
class SwapPlates(Command):
    """Two serials were bound the wrong way round: each plate goes to the other's moulding, with the evidence.

    Nothing of the past is changed: the four edges are withdrawn and the right ones stand beside them.
    """

    KIND = "plates_swapped"
    NAME = noop("exchange plates")
    ALONE = True

    first: str = scanned("hull")
    second: str = scanned("hull")
    evidence: str = words()
    photo: str = ""

    @staticmethod
    def told(e: Told) -> str:
        return _("Plates %(first)s and %(second)s found the wrong way round and exchanged. %(why)s") % {
            "first": e.says["first"], "second": e.says["second"], "why": e.why,
        }  # fmt: skip


# How a hull stands that left the plant with its papers.
GONE_AS = ("dispatched", "registered")


def swap_facts(c: SwapPlates, floor: Floor) -> Facts:
    both = floor[c.first], floor[c.second]
    hulls = [found.hull for found in both]
    gone = [found.name for found in both if found.hull and (found.hull.status in GONE_AS or found.hull.back_at)]
    return {
        "swap": {
            "same": hulls[0] is not None and hulls[1] is not None and hulls[0].uid == hulls[1].uid,
            "gone": bool(gone),
            "gone_names": " and ".join(gone),
            "no_evidence": not c.evidence.strip(),
            "models_differ": len({h.about.get("product") for h in hulls if h}) > 1,
        }
    }


@handles(SwapPlates, swap_facts)
def swap_plates(c: SwapPlates, floor: Floor, rows: Rows) -> str:
    sides: list[tuple[Found, list[dict[str, str]]]] = []
    for found in (floor[c.first], floor[c.second]):
        assert found.hull is not None  # noqa: S101
        sides.append((found, live_edges_into(found.hull.uid, ("bind", "join"))))
    for found, edges in sides:
        for edge in edges:
            rows.void(edge["event"], int(edge["n"]))
        rows.touch(found.hull.uid, "plate swapped")  # type: ignore[union-attr]
    (one, its), (other, others) = sides
    for target, edges in ((one, others), (other, its)):
        for edge in edges:
            rows.edge(target.hull.uid, edge["parent"], edge["role"])  # type: ignore[union-attr]
    rows.photo(c.photo)
    return f"{one.code} and {other.code} now stand on each other's mouldings"
