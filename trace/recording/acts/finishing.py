"""Final inspection and scrap: the last word on a hull before it may be packed."""

from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.genealogy.charged import charged
from trace.readmodels.rows import Rows
from trace.recording.acts import hold_words
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.open_questions import Behind, behind
from trace.recording.floor.readings import THICKEST, charged_trouble, mass_facts, mass_trouble, reading
from trace.recording.floor.standing import Floor, UnitFacts

GONE = ("packed", "dispatched", "scrapped")
AWAY = (*GONE, "in oven again", "cooling again")


@dataclass(frozen=True, kw_only=True)
class Inspect(Command):
    """verdict: pass or fail. checks: what was looked at; thickness: zone -> mm as read; mass in kg; colour: as seen, ""
    where nobody said it."""

    KIND = "inspected"
    NAME = noop("inspect")
    TASK = "inspection"

    hull: str = scanned("hull")
    verdict: str
    checks: tuple[str, ...] = ()
    thickness: dict[str, str] = field(default_factory=dict)
    mass: str = ""
    colour: str = ""
    remark: str = words()
    photo: str = ""

    @staticmethod
    def told(e: Told) -> str:
        parts = [_("passed") if e.says["verdict"] == "pass" else _("failed")]
        if e.says.get("checks"):
            parts.append(", ".join(e.says["checks"]))
        zones = e.says.get("thickness") or {}
        if zones:
            parts.append(", ".join(f"{zone} {mm} mm" for zone, mm in sorted(zones.items())))
        if e.says.get("mass"):
            parts.append(f"{e.says['mass']} kg")
        if e.says.get("colour"):
            parts.append(_("seen %(colour)s") % {"colour": e.says["colour"]})
        return _("Inspected: %(said)s") % {"said": "; ".join(parts)}


def _thickness(c: Inspect, zones: Facts) -> tuple[list[str], str]:
    """(the zones that are thinner than their least, why a thickness cannot be one); zones: name -> its limits."""
    thin, trouble = [], ""
    for zone, text in sorted(c.thickness.items()):
        value, least = reading(text), reading(zones.get(zone, {}).get("least_mm", "0"))
        if value is None or value <= 0:
            trouble = f"“{text[:20]}” is not a thickness for {zone}: write millimetres with a point, as in 4.1."
        elif least and value >= THICKEST * least:
            trouble = f"“{text[:20]}” is not a thickness for {zone}, whose least is {least} mm: write mm, as in 4.1."
        elif least is not None and value < least:
            thin.append(f"{zone} {text} mm (least {least})")
    return thin, trouble


def _colour_facts(c: Inspect, product: Facts, made: str) -> tuple[Facts, str]:
    """What was seen beside what the hull was made as, "" where no record says; and why it cannot be a colour of it."""
    colours = list(product.get("colours", {}))
    trouble = ""
    if c.colour and colours and c.colour not in (*colours, made):
        trouble = f"“{c.colour[:20]}” is not a colour of {product.get('name', 'this model')}: {', '.join(colours)}."
    return {"seen": c.colour, "made": made, "other": bool(c.colour and made and c.colour != made)}, trouble


def _inspected_facts(hull: UnitFacts | None, gaps: list[tuple[str, str]]) -> Facts:
    """A hull as it stands when it is inspected, with the gaps behind it."""
    return {
        "status": (hull.status if hull else None) or "unknown",
        "held": bool(hull and hull.holds),
        "hold": hold_words.held_by(hull),
        "gaps": ", ".join(f"{what} {which}".strip() for what, which in gaps),
        "has_gaps": bool(gaps),
        "gone": bool(hull and hull.status in AWAY),
    }


def _inspection_facts(
    c: Inspect, product: Facts, thin: list[str], read_before: set[str], questions: list[str]
) -> Facts:
    """What was found, and what was not looked at. thin: zones below their least; read_before: zones read earlier."""
    missing = [check for check in product.get("checks", []) if check not in c.checks]
    unread = sorted(set(product.get("zones", {})) - set(c.thickness) - read_before)
    return {
        "pass": c.verdict == "pass",
        "fail": c.verdict == "fail",
        "unchecked": bool(missing),
        "missing": ", ".join(missing),
        "thin": bool(thin),
        "thin_which": ", ".join(thin),
        "unread": bool(unread),
        "unread_which": ", ".join(unread),
        "questions": bool(questions),
        "questions_which": ", ".join(questions),
    }


def inspect_facts(c: Inspect, floor: Floor) -> Facts:
    hull = floor[c.hull].hull
    found = behind(hull.id) if hull else Behind([], [], set())
    product = floor.plant.body("product", hull.about.get("product") if hull else None)
    thin, trouble = _thickness(c, product.get("zones", {}))
    colour, no_colour = _colour_facts(c, product, str(hull.about.get("colour") or "") if hull else "")
    trouble, put_in = trouble or no_colour or mass_trouble(c.mass), charged([hull.id]) if c.mass and hull else None
    if c.mass and hull and not trouble:
        trouble = charged_trouble(c.mass, put_in)
    if c.verdict not in ("pass", "fail"):
        trouble = "Say pass or fail."
    return {
        "typed": {"trouble": trouble},
        "mass": mass_facts(c.mass, [floor.plant.product_of(hull.about)] if hull else [], put_in),
        "hull": _inspected_facts(hull, found.gaps),
        "colour": colour,
        "inspection": _inspection_facts(c, product, thin, found.zones, found.questions),
    }


@handles(Inspect, inspect_facts)
def inspect(c: Inspect, floor: Floor, rows: Rows) -> str:
    hull = floor[c.hull].hull
    assert hull is not None  # noqa: S101
    rows.touch(hull.uid, "inspected")
    for zone, text in sorted(c.thickness.items()):
        rows.reading("thickness", text, "mm", unit=hull.uid, zone=zone)
    if c.mass:
        rows.reading("hull mass", c.mass, "kg", unit=hull.uid)
    rows.photo(c.photo)
    # Told of one that is packed or gone, or in an oven, it is looked into: the hull stays where it is.
    if hull.status not in AWAY:
        rows.status(hull.uid, "released" if c.verdict == "pass" else "failed inspection")
    return f"{floor[c.hull].code}: inspected, verdict {c.verdict}"


@dataclass(frozen=True, kw_only=True)
class Scrap(Command):
    """A moulding, part or hull is scrapped; its plate is destroyed with it and its number never comes back."""

    KIND = "scrapped"
    NAME = noop("scrap")

    unit: str = scanned("hull", "moulding", "part")
    plate_destroyed: bool = False
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Scrapped: %(code)s") % {"code": printed(str(e.says.get("unit", "")))}


def scrap_facts(c: Scrap, floor: Floor) -> Facts:
    found = floor[c.unit]
    return {
        "scrap": {
            "plate_stays": found.hull is not None and not c.plate_destroyed,
            "gone": bool(found.unit and found.unit.status in GONE),
            "bound": bool(found.unit and any(x["role"] in ("bind", "join", "cut") for x in found.unit.gone_into)),
            "status": (found.unit.status if found.unit else None) or "unknown",
        }
    }


@handles(Scrap, scrap_facts)
def scrap(c: Scrap, floor: Floor, rows: Rows) -> str:
    found = floor[c.unit]
    assert found.unit is not None  # noqa: S101
    rows.status(found.unit.uid, "scrapped")
    rows.touch(found.unit.uid, "scrapped")
    if found.hull and c.plate_destroyed:
        rows.serial_stands(found.code, "destroyed", found.hull.uid)
    return f"{found.code} scrapped"
