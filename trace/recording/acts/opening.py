"""Go-live: opening stock and old hulls enter as made before records, and traces say so."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import AmountError, parse_amount, printed
from trace.readmodels.rows import Rows
from trace.recording.acts.goods_in import CARRIERS, CONTAINER_OF_KIND, UOM_OF_KIND, carrier_trouble, date_trouble
from trace.recording.commands import Command, Facts, Told, handles, scanned
from trace.recording.floor.sources import (
    first_recorded,
    issue_codes,
    lock_lot,
    lot_known,
    lot_status,
    serials_known,
    suppliers_of,
)
from trace.recording.floor.standing import Floor

BEFORE = "before records"
GO_LIVE = timedelta(days=31)  # in which opening stock is counted: common practice, no source


@dataclass(frozen=True, kw_only=True)
class OpeningStock(Command):
    """A container that stood in the plant at go-live; lot_no "" where nobody knows it.

    quarantine: it waits for its release like any delivery. opened: the day it was opened, from which its open life
    counts, "" where it is closed.
    """

    KIND = "opening_stock"
    NAME = noop("opening stock")

    material: str
    lot_no: str = ""
    amount: str
    supplier: str = ""
    expires: str = ""
    opened: str = ""
    quarantine: bool = False
    place: str = scanned("place", optional=True)
    carrier: str = "container"

    @staticmethod
    def told(e: Told) -> str:
        return _("Opening stock, made before records: %(code)s") % {"code": printed(str(e.says.get("material", "")))}


def opening_facts(c: OpeningStock, floor: Floor) -> Facts:
    material = floor.plant.get("material", c.material)
    trouble = ""
    try:
        kind = str(floor.plant.body("material", c.material).get("kind"))
        if parse_amount(c.amount, UOM_OF_KIND.get(kind, "mg")) == 0:
            trouble = "An empty container is no stock: write what it holds, or leave it out."
    except AmountError as error:
        trouble = str(error)
    trouble = trouble or date_trouble("the use-by date", c.expires) or _past("the day it was opened", c.opened, floor)
    return {
        "typed": {"trouble": trouble or carrier_trouble(c.carrier)},
        "stock": {
            "known_material": material is not None,
            "material": c.material,
            "lot_no": c.lot_no,
            **_whose(c),
            **_go_live(floor),
            "alone": floor.by.helper in ("", floor.by.person),
        },
    }


def _whose(c: OpeningStock) -> Facts:
    """Whether the number is one that the records know of a supplier, while nobody said whose lot this is."""
    suppliers = suppliers_of(c.material, c.lot_no) if c.lot_no and not c.supplier else []
    return {"whose": bool(suppliers), "suppliers": " or ".join(suppliers)}


def _go_live(floor: Floor) -> Facts:
    """Until when stock is booked that stood there before records: the plant's setting, else a month after the first."""
    first = first_recorded()
    said = floor.plant.setting("opening stock until", None)
    last = date.fromisoformat(said) if said else (floor.plant.calendar.day(first) if first else floor.day) + GO_LIVE
    return {"over": floor.day > last, "last": last.isoformat()}


def _past(name: str, text: str, floor: Floor) -> str:
    """Why a text is no day that has come, as a sentence; nothing is no trouble."""
    trouble = date_trouble(name, text)
    if text and not trouble and date.fromisoformat(text) > floor.day:
        return f"{text} has not come yet: write {name} as it was."
    return trouble


@handles(OpeningStock, opening_facts)
def opening_stock(c: OpeningStock, floor: Floor, rows: Rows) -> str:
    kind = str(floor.plant.body("material", c.material).get("kind"))
    uom = UOM_OF_KIND.get(kind, "mg")
    about = {
        "material": c.material,
        "supplier": c.supplier or None,
        "expires": c.expires or None,
        "origin": BEFORE,
    }
    status = "quarantine" if c.quarantine else "made before records"
    lot = None
    if c.lot_no:
        # One lot, however many containers of it stood there: its number must lead to all of them.
        lock_lot(c.supplier, c.material, c.lot_no)
        lot = lot_known(c.supplier, c.material, c.lot_no)
    if lot is None:
        lot = rows.unit("lot", lot_no=c.lot_no or None, about=about, status=status)
    elif lot_status(lot) == "quarantine":
        # More of a lot that waits waits with it; its holds it has from the lot.
        status = "quarantine"
    carrier = rows.carrier(c.carrier if c.carrier != "container" else CONTAINER_OF_KIND.get(kind, "container"))
    amount = parse_amount(c.amount, uom)
    content = rows.unit(
        "content", amount=amount, uom=uom, carrier=carrier, lot_no=c.lot_no or None,
        about={**about, "lot": lot, "opened": c.opened or None}, status=status, place=floor[c.place].key or "STORE",
    )  # fmt: skip
    rows.edge(content, lot, "receive", amount=amount, uom=uom)
    rows.fill(carrier, content, floor.happened)
    code = issue_codes(1)[0]
    rows.label(code, carrier=carrier)
    waits = ", in quarantine" if status == "quarantine" else ""
    return f"{c.material}, opening stock{waits}, label {printed(code)}"


@dataclass(frozen=True, kw_only=True)
class EmptyCarrier(Command):
    """A new tub, drop box, vessel or returnable box with its label, empty."""

    KIND = "carrier_made"
    NAME = noop("make carriers")

    carrier: str
    count: int = 1
    code: str = ""

    @staticmethod
    def told(e: Told) -> str:
        kind = e.says["carrier"].replace("_", " ")
        return _("Made for use: %(count)s of kind %(kind)s") % {"count": e.says["count"], "kind": kind}


def carrier_facts(c: EmptyCarrier, floor: Floor) -> Facts:
    return {"carrier": {"unknown": c.carrier not in CARRIERS, "kind": c.carrier, "many": not 1 <= c.count <= 200}}


@handles(EmptyCarrier, carrier_facts)
def empty_carrier(c: EmptyCarrier, floor: Floor, rows: Rows) -> str:
    codes = issue_codes(c.count)
    for code in codes:
        carrier = rows.carrier(c.carrier)
        rows.label(code, carrier=carrier)
    return f"{c.count} × {c.carrier.replace('_', ' ')}"


@dataclass(frozen=True, kw_only=True)
class OldHull(Command):
    """A hull made before the records began: known by its plate, with nothing known of its inside.

    consignee, gone: to whom it went, and the day if anybody knows it, where it left before the records began.
    """

    KIND = "old_hull"
    NAME = noop("old hull")

    serial: str
    product: str
    colour: str = ""
    made: str = ""
    consignee: str = ""
    gone: str = ""
    place: str = scanned("place", optional=True)

    @staticmethod
    def told(e: Told) -> str:
        return _("Made before records: %(code)s") % {"code": printed(str(e.says.get("serial", "")))}


def old_hull_facts(c: OldHull, floor: Floor) -> Facts:
    # A year and month are enough: nobody knows the day.
    made = f"{c.made}-01" if len(c.made) == len("2025-04") else c.made
    trouble = date_trouble("the day or month it was made", made) or _past("the day it left", c.gone, floor)
    if not trouble and c.gone and not c.consignee:
        trouble = "To whom it went is missing: choose the consignee from the list."
    if not trouble and c.consignee and floor.plant.get("consignee", c.consignee) is None:
        trouble = f"“{c.consignee[:40]}” is no consignee of this plant: choose one from the list."
    return {
        "typed": {"trouble": trouble},
        "plates": {
            "known_product": floor.plant.get("product", c.product) is not None,
            "product": c.product,
            "again": bool(serials_known((c.serial,))),
            "again_which": c.serial[:40],
            "none": not c.serial.strip(),
        }
    }


@handles(OldHull, old_hull_facts)
def old_hull(c: OldHull, floor: Floor, rows: Rows) -> str:
    plate = rows.unit("plate", lot_no=c.serial, about={"product": c.product, "origin": BEFORE}, status="bound")
    rows.serial(c.serial, plate, "before records", c.product, None)
    hull = rows.unit(
        "hull", about={"product": c.product, "colour": c.colour or None, "origin": BEFORE, "made": c.made or None},
        status="dispatched" if c.consignee else "made before records",
        place=f"gone: {c.consignee}" if c.consignee else floor[c.place].key or "STORE",
    )  # fmt: skip
    rows.edge(hull, plate, "plate")
    rows.serial_stands(c.serial, "bound", hull)
    rows.gap(hull, "before records", "")
    if not c.consignee:
        return f"{c.serial}, made before records"
    load = rows.unit("consignment", about={"consignee": c.consignee, "gone": c.gone or None}, status="dispatched")
    rows.edge(load, hull, "ship")
    rows.resource("consignee", c.consignee, "consignee")
    return f"{c.serial}, made and gone to {c.consignee} before records"
