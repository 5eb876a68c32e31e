"""Plates: prepared in a batch, checked out to the floor, counted back; a number is never used twice."""

import re
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import CodeError, HullNumber, parse_hull_number
from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, scanned_list
from trace.recording.floor.sources import plates_out, serials_known
from trace.recording.floor.standing import Floor, Found

MONTH = re.compile("[0-9]{4}-(0[1-9]|1[0-2])")


@dataclass(frozen=True, kw_only=True)
class MakePlates(Command):
    """A batch of plates for one product. serials: the texts on them; month: "2026-04", or "" if they carry none or
    say it themselves (33 CFR 181.25: a letter and a digit)."""

    KIND = "plates_made"
    NAME = noop("make plates")
    DECISION = True

    product: str
    serials: tuple[str, ...]
    month: str = ""

    @staticmethod
    def told(e: Told) -> str:
        count = len(e.says.get("serials") or e.says.get("plates") or ())
        return _("Plate made, in a batch of %(count)d") % {"count": count}


def make_facts(c: MakePlates, floor: Floor) -> Facts:
    product = floor.plant.get("product", c.product)
    form = (product.body if product else {}).get("hull_number", {})
    wrong = [s for s in c.serials if _why(s, form, c.month)]
    known = serials_known(c.serials)
    trouble = ""
    if c.month and not MONTH.fullmatch(c.month):
        trouble = f"“{c.month[:20]}” is no month: write it as 2026-04, or nothing where the plate carries none."
    return {
        "typed": {"trouble": trouble},
        "plates": {
            "known_product": product is not None,
            "product": c.product,
            "none": not c.serials,
            "wrong": bool(wrong),
            "wrong_which": ", ".join(w[:40] for w in wrong[:3]),
            "wrong_why": _why(wrong[0], form, c.month) if wrong else "",
            "again": bool(known) or len(set(c.serials)) < len(c.serials),
            "again_which": ", ".join(known[:3]) or "one number twice in this batch",
        }
    }


def _why(serial: str, form: Facts, month: str) -> str:
    """Why a text is no hull number of this product's format in a batch of that month, or ""."""
    if form.get("format") == "us":
        try:
            number = parse_hull_number(serial)
        except CodeError as error:
            return str(error)
        maker = form.get("maker", number.maker)
        if number.maker != maker:
            return f"The maker code is {number.maker}, this plant's is {maker}."
        made = _month_of(number)
        return "" if month in ("", made) else f"Its month letter and year digit say {made}, the batch is of {month}."
    prefix = str(form.get("prefix", ""))
    rest = serial.removeprefix(prefix)
    if not serial.startswith(prefix) or not rest.isascii() or not rest.isdigit() or len(rest) != 6:
        return f"A plate of this product reads {prefix} and six digits."
    return ""


def _month_of(number: HullNumber) -> str:
    """The month of manufacture that a hull number says itself, as 2026-04."""
    return f"{number.production_years[0]}-{number.month:02d}"


@handles(MakePlates, make_facts)
def make_plates(c: MakePlates, floor: Floor, rows: Rows) -> str:
    form = floor.plant.body("product", c.product).get("hull_number", {}).get("format", "plant")
    for serial in c.serials:
        plate = rows.unit("plate", lot_no=serial, about={"product": c.product}, status="made")
        said = c.month or (_month_of(parse_hull_number(serial)) if form == "us" else None)
        rows.serial(serial, plate, form, c.product, said)
    rows.resource("product", c.product, "product")
    return f"{_plates(len(c.serials))} for {c.product}"


def _plates(n: int) -> str:
    return "1 plate" if n == 1 else f"{n} plates"


@dataclass(frozen=True, kw_only=True)
class CheckOutPlates(Command):
    KIND = "plates_out"
    NAME = noop("plates out")

    plates: tuple[str, ...] = scanned_list("plate")

    @staticmethod
    def told(e: Told) -> str:
        count = len(e.says.get("serials") or e.says.get("plates") or ())
        return _("Plate checked out, %(count)d together") % {"count": count}


@dataclass(frozen=True, kw_only=True)
class CountBackPlates(Command):
    """Plates that come back from the floor unused, late ones too; `missing` are those out that did not come back.

    stay_out: the others of these products that are out are still at work, not on a hull and not missing.
    """

    KIND = "plates_back"
    NAME = noop("plates back")

    plates: tuple[str, ...] = scanned_list("plate")
    missing: tuple[str, ...] = scanned_list("plate")
    stay_out: bool = False

    @staticmethod
    def told(e: Told) -> str:
        count = len(e.says.get("serials") or e.says.get("plates") or ())
        return _("Plate counted back, %(count)d together") % {"count": count}


def standing_facts(c: CheckOutPlates | CountBackPlates, floor: Floor) -> Facts:
    found = floor.list(c.plates)
    missing = floor.list(c.missing) if isinstance(c, CountBackPlates) else []
    rest = _still_out(found + missing) if isinstance(c, CountBackPlates) else []
    wanted = ("made", "back") if isinstance(c, CheckOutPlates) else ("out", "missing")
    wrong = [f for f in found if (f.serial or {}).get("standing") not in wanted]
    wrong += [f for f in missing if (f.serial or {}).get("standing") != "out" or f in found]
    return {
        "plates": {
            "none": not found and not missing,
            "not_back": bool(rest) and isinstance(c, CountBackPlates) and not c.stay_out,
            "not_back_count": _plates(len(rest)),
            "not_back_which": ", ".join(rest[:5]) + (", …" if len(rest) > 5 else ""),
            "misplaced": bool(wrong),
            "misplaced_which": ", ".join(f"{f.code} is {(f.serial or {}).get('standing')}" for f in wrong[:3]),
        }
    }


def _still_out(counted: list[Found]) -> list[str]:
    """The plates of the counted ones' products that are out and were not counted: out, less bound, less these."""
    products = sorted({str(f.serial["product"]) for f in counted if f.serial})
    here = {f.code for f in counted}
    return [text for text in plates_out(products) if text not in here]


def _stands(rows: Rows, plate: Found, standing: str) -> bool:
    """The plate is out, back or missing from now on; one that is on a hull, or was destroyed, stays so."""
    if (plate.serial or {}).get("standing") in ("bound", "destroyed"):
        return False
    rows.serial_stands(plate.code, standing, None)
    return True


@handles(CheckOutPlates, standing_facts)
def check_out(c: CheckOutPlates, floor: Floor, rows: Rows) -> str:
    out = 0
    for found in floor.list(c.plates):
        out += _stands(rows, found, "out")
        if found.unit:
            rows.touch(found.unit.uid, "checked out")
    return f"{_plates(out)} out"


@handles(CountBackPlates, standing_facts)
def count_back(c: CountBackPlates, floor: Floor, rows: Rows) -> str:
    back = missing = 0
    for found in floor.list(c.plates):
        back += _stands(rows, found, "back")
        if found.unit:
            rows.touch(found.unit.uid, "counted back")
    for found in floor.list(c.missing):
        missing += _stands(rows, found, "missing")
        rows.discrepancy("plate missing", found.unit.uid if found.unit else None)
    rest = len(_still_out(floor.list(c.plates) + floor.list(c.missing)))
    return f"{_plates(back)} back, {missing} missing, {rest} still out"
