"""Rules met from the open mould to the hull with its plate: demoulding, binding, plates out and back, swaps."""

from collections.abc import Iterator

from tests.scan.browser import Screen
from tests.scan.cast import SERIALS, WAREHOUSE, Plant, cook, hull, load, month
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, refused_with, rule, scans
from tests.scan.rules.weighing import define
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Scrap
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.plates import CheckOutPlates, CountBackPlates, MakePlates


def waiting(plant: Plant, open_: Opens) -> Screen:
    """A moulding just out of T430-01 waits for its plate."""
    cook(plant)
    plant.shift.scan(Demould(mould="T430-01"), station="demould")
    screen = open_("demould")
    screen.scan(plant["T430-01"])
    return screen


@rule("NOT-TO-DEMOULD")
def not_cooled(plant: Plant, at: Opens) -> Iterator[Scan]:
    load(plant, 1, "T430-02", "S2")
    cook(plant)
    screen = at("demould")
    yield lambda: screen.scan(plant["T430-02"])
    yield lambda: screen.scan(plant["T430-01"])


@rule("NO-MOULDING")
def bound_meanwhile(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = waiting(plant, at)
    plant.shift.scan(Bind(mould="T430-01", plate=SERIALS[0]))
    cook(plant, 1, "T430-02", "S2")
    yield lambda: screen.scan(SERIALS[1])
    yield lambda: [screen.open("demould"), screen.scan(plant["T430-02"]), screen.scan(SERIALS[1])][-1]


@rule("PLATE-USED")
def used_plate(plant: Plant, at: Opens) -> Iterator[Scan]:
    hull(plant, 1, "T430-02", "S2")
    screen = waiting(plant, at)
    yield lambda: screen.scan(SERIALS[1])
    yield lambda: screen.scan(SERIALS[0])


@rule("CODE-UNKNOWN")
def no_such_plate(plant: Plant, at: Opens) -> Iterator[Scan]:
    """A plate is made and checked out at Plates, never booked at goods-in."""
    screen = waiting(plant, at)
    yield lambda: refused_with(screen.scan("GHM-T430-009999"), "no such plate is out: the lead checks its batch out")
    yield lambda: screen.scan(SERIALS[0])


@rule("PLATE-NOT-OUT")
def plate_not_out(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(MakePlates(product="T430", serials=("GHM-T430-005000",), month=month()), person="P-03")
    screen = waiting(plant, at)
    yield lambda: screen.scan("GHM-T430-005000")
    yield lambda: screen.scan(SERIALS[0])


@rule("PLATE-OTHER-PRODUCT")
def plate_of_another(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.plates("H320", ["GHM-H320-000001"], month())
    screen = waiting(plant, at)
    yield lambda: screen.scan("GHM-H320-000001")
    yield lambda: screen.scan(SERIALS[0])


@rule("PLATE-OTHER-MONTH")
def plate_of_another_month(plant: Plant, at: Opens) -> Iterator[Scan]:
    """The month on the plate must fit the build month."""
    plant.shift.plates("T430", ["GHM-T430-005001"], "2020-01")
    screen = waiting(plant, at)
    yield lambda: screen.scan("GHM-T430-005001")
    yield lambda: screen.scan(SERIALS[0])


def moulding_of(plant: Plant) -> str:
    """The number of the newest moulding."""
    from trace.models import Unit

    return str(Unit.objects.filter(kind="moulding").order_by("-id")[0].lot_no)


@rule("BOUND-LATE", "warned")
def bound_late(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "setting", "bind within minutes", value=0)
    screen = waiting(plant, at)
    yield lambda: screen.scan(SERIALS[0])
    define(plant, "setting", "bind within minutes", value=120)
    cook(plant, 1, "T430-02", "S2")
    yield lambda: scans(screen, plant["T430-02"], SERIALS[1])


@rule("JOIN-COLOURS")
def halves_of_two_colours(plant: Plant, at: Opens) -> Iterator[Scan]:
    """Two halves become one product; one of them is out of the next order's powder."""
    numbers = []
    for n in range(3):
        if n == 1:
            define(plant, "works_order", "WO-1041", colour="lime")
            lime = plant.shift.stock("VERRIN", "LL-35 lime", "V-2330", ("100.00",))[0]
            plant = Plant({**plant.codes, "red": lime})
        cook(plant, n)
        plant.shift.scan(Demould(mould="T430-01"))
        numbers.append(moulding_of(plant))
    screen = at("demould")
    scans(screen, *numbers[:2])
    yield lambda: screen.scan(SERIALS[0])
    yield lambda: [screen.press("anew"), scans(screen, *numbers[1:], SERIALS[0])][-1]


@rule("MOULDING-WHICH")
def two_wait(plant: Plant, at: Opens) -> Iterator[Scan]:
    for n in (0, 1):
        cook(plant, n)
        plant.shift.scan(Demould(mould="T430-01"))
    screen = at("demould")
    page = screen.scan(plant["T430-01"])
    assert page.next == "Scan or type the moulding's number, then its plate"
    yield lambda: screen.scan(SERIALS[0])
    yield lambda: scans(screen, moulding_of(plant), SERIALS[0])


@rule("MOULDING-BOUND")
def bound_already(plant: Plant, at: Opens) -> Iterator[Scan]:
    hull(plant)
    number = moulding_of(plant)
    cook(plant, 1, "T430-02", "S2")
    screen = at("demould")
    screen.scan(number)
    yield lambda: screen.scan(SERIALS[1])
    yield lambda: [screen.open("demould"), screen.scan(plant["T430-02"]), screen.scan(SERIALS[1])][-1]


@rule("MOULDING-NOT-FOR-SALE")
def trial_moulding(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "works_order", "WO-1041", purpose="trial")
    cook(plant)
    plant.shift.scan(Demould(mould="T430-01"))
    number = moulding_of(plant)
    define(plant, "works_order", "WO-1041")
    cook(plant, 1, "T430-02", "S2")
    screen = at("demould")
    screen.scan(number)
    yield lambda: screen.scan(SERIALS[0])
    yield lambda: [screen.open("demould"), screen.scan(plant["T430-02"]), screen.scan(SERIALS[0])][-1]


@rule("PARTS-TOO-FEW")
def one_part(plant: Plant, at: Opens) -> Iterator[Scan]:
    cook(plant)
    plant.shift.scan(Demould(mould="T430-01"))
    screen = at("cut")
    screen.scan(moulding_of(plant))
    yield lambda: screen.fill(parts="LEFT")
    yield lambda: screen.fill(parts="LEFT RIGHT")


@rule("CUT-UNFIT")
def scrapped_is_not_cut(plant: Plant, at: Opens) -> Iterator[Scan]:
    cook(plant)
    plant.shift.scan(Demould(mould="T430-01"))
    number = moulding_of(plant)
    plant.shift.scan(Scrap(unit=number, reason="thin"))
    cook(plant, 1, "T430-02", "S2")
    plant.shift.scan(Demould(mould="T430-02"))
    screen = at("cut")
    screen.scan(number)
    yield lambda: screen.fill(parts="LEFT RIGHT")
    yield lambda: [screen.open("cut"), screen.scan(moulding_of(plant)), screen.fill(parts="LEFT RIGHT")][-1]


# Plates.


@rule("NONE-SCANNED")
def no_plate(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("plates")
    screen.fill(task="back")
    yield lambda: screen.press("done")
    yield lambda: [screen.scan(SERIALS[0]), screen.press("done", stay_out="yes")][-1]


@rule("PLATES-NOT-BACK")
def one_of_those_out_is_not_counted(plant: Plant, at: Opens) -> Iterator[Scan]:
    """30 went out, 2 are on hulls, 27 come back: one is missing, and nobody has said so."""
    hull(plant)
    screen = at("plates")
    screen.fill(task="back")
    scans(screen, *SERIALS[1:-1])
    yield lambda: screen.press("done")
    yield lambda: screen.press("done", missing=SERIALS[-1])


@rule("PLATE-TEXT")
def not_a_number(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("plates")
    screen.fill(task="make")
    yield lambda: screen.press("make", product="T430", first_number="GHM-T430-12", month=month())
    yield lambda: screen.fill(product="T430", first_number="6000", count="3", month=month())


@rule("PLATE-MISPLACED")
def missing_that_never_went_out(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(MakePlates(product="T430", serials=("GHM-T430-005000",), month=month()), person="P-03")
    screen = at("plates")
    screen.fill(task="back")
    yield lambda: screen.press("done", missing="GHM-T430-005000", stay_out="yes")
    yield lambda: screen.press("done", missing=SERIALS[0])


@rule("PLATE-NOT-OUT")
def plate_missed_at_the_count(plant: Plant, at: Opens) -> Iterator[Scan]:
    """One that was not found at the count may lie on any hull."""
    plant.shift.scan(CountBackPlates(missing=(SERIALS[0],), stay_out=True), person="P-03")
    screen = waiting(plant, at)
    yield lambda: screen.scan(SERIALS[0])
    plant.shift.scan(CountBackPlates(plates=(SERIALS[0],), stay_out=True), person="P-03")
    plant.shift.scan(CheckOutPlates(plates=(SERIALS[0],)), person="P-03")
    yield lambda: screen.scan(SERIALS[0])


@rule("PLATE-TEXT")
def letter_of_another_month(plant: Plant, at: Opens) -> Iterator[Scan]:
    """33 CFR 181.25: the ninth character is the month of manufacture, A for January; the tenth its year."""
    define(plant, "product", "T430", hull_number={"format": "us", "maker": "ABC"})
    screen = at("plates")
    screen.fill(task="make")
    yield lambda: screen.fill(product="T430", first_number="ABC12345F626", month="2026-05")
    yield lambda: screen.fill(product="T430", first_number="ABC12345F626", month="2026-06")


@rule("PLATE-MISPLACED")
def out_twice(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(MakePlates(product="T430", serials=("GHM-T430-005000",), month=month()), person="P-03")
    screen = at("plates")
    yield lambda: screen.scan(SERIALS[0])
    yield lambda: [screen.scan("GHM-T430-005000"), screen.press("done")][-1]


def swapping(plant: Plant, open_: Opens) -> Screen:
    hull(plant)
    hull(plant, 1, "T430-02", "S2")
    screen = open_("plates")
    screen.fill(task="swap")
    scans(screen, SERIALS[0], SERIALS[1])
    return screen


@rule("SWAP-UNFIT")
def no_evidence(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = swapping(plant, at)
    yield lambda: screen.press("swap")
    yield lambda: screen.fill(why="mass", why_words="28.6 and 31.2 kg")


@rule("SWAP-ITSELF")
def one_plate_twice(plant: Plant, at: Opens) -> Iterator[Scan]:
    hull(plant)
    hull(plant, 1, "T430-02", "S2")
    screen = at("plates")
    screen.fill(task="swap")
    scans(screen, SERIALS[0], SERIALS[0])
    yield lambda: screen.fill(why="mass", why_words="28.6 and 31.2 kg")
    yield lambda: [
        screen.open("plates"), screen.press("anew"), screen.fill(task="swap"), scans(screen, SERIALS[0], SERIALS[1]),
        screen.fill(why="mass", why_words="28.6 and 31.2 kg"),
    ][-1]  # fmt: skip


@rule("SWAP-GONE")
def gone_already(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = swapping(plant, at)
    plant.shift.inspect(SERIALS[0])
    [pack] = plant.shift.scan(Pack(order="SO-220", hulls=(SERIALS[0],)), person=WAREHOUSE).made["codes"]
    plant.shift.scan(Dispatch(order="SO-220", packs=(pack,), consignee="WHARFE", vehicle="PA 12"), person=WAREHOUSE)
    yield lambda: screen.fill(why="mass", why_words="28.6 and 31.2 kg")
    yield lambda: [screen.fill(task="back"), screen.scan(SERIALS[3]), screen.press("done", stay_out="yes")][-1]
