"""Rules met from the open mould to the truck: plates, binding, inspection, packing, racking, dispatch."""

from collections.abc import Iterator

from tests.scan.browser import Page, Screen
from tests.scan.cast import DEPUTY, QUALITY, SERIALS, WAREHOUSE, Plant, cook, hull, load, month, passed
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule, scans
from tests.scan.rules.weighing import define
from trace.demo.plant import products
from trace.recording.acts.corrections import CloseDiscrepancy
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Scrap
from trace.recording.acts.goods_in import Release
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.opening import OldHull
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.plates import CheckOutPlates, CountBackPlates, MakePlates

ZONES = {f"zone_{zone}": "4.1" for zone in products()["T430"]["zones"]}
ALL = {"check_surface": "yes", "check_inserts": "yes", "check_plate": "yes", **ZONES}


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
    """E9: the month on the plate must fit the build month."""
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
    """E9: one that was not found at the count may lie on any hull."""
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


# Inspection.


def inspecting(plant: Plant, open_: Opens) -> Screen:
    hull(plant)
    screen = open_("inspect")
    screen.scan(SERIALS[0])
    return screen


@rule("INSPECT-HELD")
def held_hull(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    [hold] = plant.shift.scan(Hold(code=SERIALS[0], reason="scratch"), person="P-03").made["holds"]
    yield lambda: screen.press("pass", **ALL)
    plant.shift.scan(ReleaseHold(hold=hold, reason="polished"), person=DEPUTY)
    yield lambda: screen.press("pass", **ALL)


@rule("INSPECT-UNCHECKED")
def not_looked_at(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    yield lambda: screen.press("pass", check_surface="yes")
    yield lambda: screen.press("pass", **ALL)


@rule("INSPECT-RECORD-MISSING")
def record_missing(plant: Plant, at: Opens) -> Iterator[Scan]:
    """A hull without its oven log; the hold is ended by named evidence, the gap stays."""
    load(plant)
    plant.shift.cook(["T430-01"], "S1", log="missing")
    from trace.models import Hold as Laid

    uid = str(Laid.objects.order_by("-id")[0].uid)
    plant.shift.scan(ReleaseHold(hold=uid, reason="logger read by hand"), person=DEPUTY)
    plant.shift.demould_and_bind("T430-01", SERIALS[0])
    hull(plant, 1, "T430-02", "S2")
    screen = at("inspect")
    screen.scan(SERIALS[0])
    yield lambda: screen.press("pass", **ALL)
    yield lambda: [screen.scan(SERIALS[1]), screen.press("pass", **ALL)][-1]


@rule("INSPECT-GONE")
def packed_already(plant: Plant, at: Opens) -> Iterator[Scan]:
    passed(plant)
    plant.shift.scan(Pack(order="SO-220", hulls=(SERIALS[0],)), person=WAREHOUSE)
    hull(plant, 1, "T430-02", "S2")
    screen = at("inspect")
    screen.scan(SERIALS[0])
    yield lambda: screen.press("pass", **ALL)
    yield lambda: [screen.open("inspect"), screen.scan(SERIALS[1]), screen.press("pass", **ALL)][-1]


@rule("ZONE-THIN", "flagged")
def thin(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    hull(plant, 1, "T430-02", "S2")
    yield lambda: screen.press("pass", **ALL | {"zone_Z1": "3.3"})
    yield lambda: [screen.scan(SERIALS[1]), screen.press("pass", **ALL | {"zone_Z1": "3.4"})][-1]


def refused_with(page: Page, words: str) -> Page:
    assert words in page.verdict, page.verdict
    return page


@rule("AMOUNT-UNREADABLE")
def zone_in_tenths(plant: Plant, at: Opens) -> Iterator[Scan]:
    """41 for 4.1: no wall is ten times its least."""
    screen = inspecting(plant, at)
    bad = ALL | {"zone_Z1": "41"}
    yield lambda: refused_with(screen.press("pass", **bad), "“41” is not a thickness for Z1, whose least is 3.4 mm")
    yield lambda: screen.press("pass", **ALL)


@rule("AMOUNT-UNREADABLE")
def hull_heavier_than_what_went_in(plant: Plant, at: Opens) -> Iterator[Scan]:
    """2860 for 28.60: twice what was charged is as far as it goes."""
    screen = inspecting(plant, at)
    words = "2860 kg is impossible: 28.67 kg were charged"
    yield lambda: refused_with(screen.press("pass", **ALL, mass="2860"), words)
    yield lambda: screen.press("pass", **ALL, mass="57.34")


@rule("AMOUNT-UNREADABLE")
def moulding_heavier_than_what_went_in(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = waiting(plant, at)
    yield lambda: refused_with(screen.scan(SERIALS[0], mass="284"), "284 kg is impossible: 28.67 kg were charged")
    yield lambda: screen.scan(SERIALS[0], mass="28.4")


@rule("AMOUNT-UNREADABLE")
def moulding_lighter_than_half(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = waiting(plant, at)
    yield lambda: screen.scan(SERIALS[0], mass="2.84")
    yield lambda: screen.scan(SERIALS[0], mass="14.34")


@rule("INSPECT-OTHER-COLOUR", "flagged")
def seen_in_another_colour(plant: Plant, at: Opens) -> Iterator[Scan]:
    """One press; whoever says nothing of the colour is asked nothing."""
    screen = inspecting(plant, at)
    hull(plant, 1, "T430-02", "S2")
    assert screen.page is not None
    assert "teal" in screen.page.form.offered["colour"] and "colour" not in screen.page.form.values

    def seen() -> Page:
        page = screen.press("pass", **ALL, colour="teal")
        return refused_with(page, "Seen teal, but made red by the records.")

    yield seen
    yield lambda: [screen.scan(SERIALS[1]), screen.press("pass", **ALL, colour="red")][-1]


@rule("AMOUNT-UNREADABLE")
def no_colour_of_this_model(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    assert screen.page is not None
    sent = {**ALL, "colour": "sheen"}
    yield lambda: screen.send(screen.page.form, sent, ("do", "pass"))  # type: ignore[union-attr]
    yield lambda: screen.press("pass", **ALL)


@rule("MASS-LIGHT", "flagged")
def foam_not_in_it(plant: Plant, at: Opens) -> Iterator[Scan]:
    """28.67 kg were charged; without the foam 19.52 kg came out of the mould."""
    screen = waiting(plant, at)
    yield lambda: screen.scan(SERIALS[0], mass="19.60")
    cook(plant, 1, "T430-02", "S2")
    screen.open("demould")
    screen.scan(plant["T430-02"])
    yield lambda: screen.scan(SERIALS[1], mass="28.60")


@rule("MASS-HEAVY", "flagged")
def inner_in_it_twice(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    yield lambda: screen.press("pass", **ALL, mass="35.99")
    yield lambda: [screen.open("inspect"), screen.scan(SERIALS[0]), screen.press("fail", **ALL, mass="28.70")][-1]


@rule("ZONE-UNREAD")
def zone_left_out(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    yield lambda: screen.press("pass", **ALL | {"zone_Z2": ""})
    yield lambda: screen.press("pass", **ALL)


@rule("ZONE-UNREAD")
def zone_read_when_it_failed(plant: Plant, at: Opens) -> Iterator[Scan]:
    """What was read at an earlier look counts; what was not is still asked for."""
    screen = inspecting(plant, at)
    screen.press("fail", **ALL | {"zone_Z2": ""}, remark="blow-hole at the seat")
    from trace.models import Hold as Laid

    uid = str(Laid.objects.order_by("-id")[0].uid)
    plant.shift.scan(ReleaseHold(hold=uid, reason="filled"), person="P-10")
    unread = ALL | dict.fromkeys(ZONES, "")
    yield lambda: [screen.open("inspect"), screen.scan(SERIALS[0]), screen.press("pass", **unread)][-1]
    yield lambda: screen.press("pass", **unread | {"zone_Z2": "4.0"})


@rule("INSPECT-QUESTION")
def question_open(plant: Plant, at: Opens) -> Iterator[Scan]:
    """Its plate was told as bound against a rule: a person has to say what came of it."""
    from trace.models import Discrepancy, Event
    from trace.models import Hold as Laid

    load(plant)
    plant.shift.cook(["T430-01"], "S1")
    plant.shift.scan(Demould(mould="T430-01"), station="demould")
    define(plant, "setting", "rule:BOUND-LATE", value="refuse")
    define(plant, "setting", "bind within minutes", value=0)
    plant.shift.scan(Bind(mould="T430-01", plate=SERIALS[0]), mode="tells")
    define(plant, "setting", "bind within minutes", value=120)
    uid = str(Laid.objects.order_by("-id")[0].uid)
    plant.shift.scan(ReleaseHold(hold=uid, reason="plate and moulding compared"), person="P-10")
    screen = at("inspect")
    screen.scan(SERIALS[0])
    yield lambda: screen.press("pass", **ALL)
    question = Discrepancy.objects.get(closed_by=None)
    event = str(Event.objects.get(pk=question.event).uid)
    plant.shift.scan(CloseDiscrepancy(event=event, n=question.n, reason="explained"), person="P-03")
    yield lambda: screen.press("pass", **ALL)


@rule("INSPECT-FAILED", "flagged")
def fails(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    hull(plant, 1, "T430-02", "S2")
    yield lambda: screen.press("fail", remark="blow-hole at the seat")
    yield lambda: [screen.scan(SERIALS[1]), screen.press("pass", **ALL)][-1]


@rule("SCRAP-PLATE-STAYS")
def plate_stays(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    yield lambda: screen.press("scrap", remark="cracked")
    yield lambda: screen.press("scrap", remark="cracked", plate_destroyed="yes")


@rule("SCRAP-BOUND")
def scrap_what_became_a_hull(plant: Plant, at: Opens) -> Iterator[Scan]:
    hull(plant)
    screen = at("inspect")
    screen.scan(moulding_of(plant))
    yield lambda: screen.press("scrap", remark="cracked")
    yield lambda: [screen.scan(SERIALS[0]), screen.press("scrap", remark="cracked", plate_destroyed="yes")][-1]


@rule("SCRAP-GONE")
def scrap_packed(plant: Plant, at: Opens) -> Iterator[Scan]:
    passed(plant)
    plant.shift.scan(Pack(order="SO-220", hulls=(SERIALS[0],)), person=WAREHOUSE)
    hull(plant, 1, "T430-02", "S2")
    screen = at("inspect")
    screen.scan(SERIALS[0])
    yield lambda: screen.press("scrap", remark="cracked", plate_destroyed="yes")
    yield lambda: [screen.open("inspect"), screen.scan(SERIALS[1]), screen.press("pass", **ALL)][-1]


# The gate. Hulls made before records are quick to tell and pass the same gate.


def old(plant: Plant, n: int, product: str = "T430", colour: str = "red") -> str:
    serial = f"GHM-{product}-0000{n:02d}"
    plant.shift.scan(OldHull(serial=serial, product=product, colour=colour, place="STORE"), person="P-09")
    return serial


def packing(plant: Plant, open_: Opens, order: str = "SO-220") -> Screen:
    screen = open_("pack")
    screen.scan(plant[order])
    return screen


@rule("NOTHING-PACKED")
def empty_pack(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial = old(plant, 1)
    screen = packing(plant, at)
    screen.fill(gather="yes")
    yield lambda: screen.press("pack")
    yield lambda: [screen.scan(serial), screen.press("pack")][-1]


@rule("PACK-HELD")
def pack_held(plant: Plant, at: Opens) -> Iterator[Scan]:
    first, second = old(plant, 1), old(plant, 2)
    plant.shift.scan(Hold(code=first, reason="query"), person=QUALITY)
    screen = packing(plant, at)
    yield lambda: screen.scan(first)
    yield lambda: screen.scan(second)


@rule("PACK-HELD")
def pack_held_before_the_order(plant: Plant, at: Opens) -> Iterator[Scan]:
    first, second = old(plant, 1), old(plant, 2)
    plant.shift.scan(Hold(code=first, reason="query"), person=QUALITY)
    screen = at("pack")
    yield lambda: screen.scan(first)
    screen.scan(second)
    yield lambda: screen.scan(plant["SO-220"])


def unconfirmed(plant: Plant) -> str:
    """A hull that passed, of powder whose release is not confirmed yet."""
    serial = passed(plant)
    plant.shift.scan(Release(container=plant["red"], conditional=True, reason="retest"), person=QUALITY)
    return serial


@rule("PACK-CONDITIONAL", "warned")
def pack_unconfirmed(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, second = unconfirmed(plant), old(plant, 2)
    screen = packing(plant, at)
    yield lambda: screen.scan(serial)
    yield lambda: screen.scan(second)


@rule("GATE-CONDITIONAL")
def gate_unconfirmed(plant: Plant, at: Opens) -> Iterator[Scan]:
    first, second = packs(plant, unconfirmed(plant), old(plant, 2))
    screen = truck(plant, at)
    yield lambda: screen.scan(first)
    yield lambda: leaves(screen, second)


@rule("PACK-GONE")
def pack_one_that_was_at_a_dealer_at_go_live(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("opening")
    screen.fill(task="hull")
    screen.fill(product="T430", serial="GHM-T430-000001", colour="red", consignee="WHARFE", gone="2020-02-01")
    second = old(plant, 2)
    screen = packing(plant, at)
    yield lambda: screen.scan("GHM-T430-000001")
    yield lambda: screen.scan(second)


@rule("PACK-TRIAL")
def pack_a_trial_hull(plant: Plant, at: Opens) -> Iterator[Scan]:
    """Quality let it have a plate, to test it; that is no leave to sell it."""
    define(plant, "works_order", "WO-1041", purpose="trial")
    cook(plant)
    plant.shift.scan(Demould(mould="T430-01"))
    bind = Bind(mouldings=(moulding_of(plant),), plate=SERIALS[0])
    plant.shift.scan(bind, person=QUALITY, overrides={"MOULDING-NOT-FOR-SALE": "impact test"})
    plant.shift.inspect(SERIALS[0])
    second = old(plant, 2)
    screen = packing(plant, at)
    yield lambda: screen.scan(SERIALS[0])
    yield lambda: screen.scan(second)


@rule("PACK-NOT-RELEASED")
def pack_unready(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, second = hull(plant), old(plant, 2)
    screen = packing(plant, at)
    yield lambda: screen.scan(serial)
    yield lambda: screen.scan(second)


@rule("PACK-OFF-ORDER")
def pack_other_colour(plant: Plant, at: Opens) -> Iterator[Scan]:
    lime, red = old(plant, 1, colour="lime"), old(plant, 2)
    screen = packing(plant, at)
    yield lambda: screen.scan(lime)
    yield lambda: screen.scan(red)


@rule("PACK-OVER-ORDER")
def pack_too_many(plant: Plant, at: Opens) -> Iterator[Scan]:
    lines = [{"product": "T430", "colour": "red", "quantity": 1}]
    define(plant, "sales_order", "SO-220", lines=lines)
    first, second = old(plant, 1), old(plant, 2)
    screen = packing(plant, at)
    screen.scan(first)
    yield lambda: screen.scan(second)
    yield lambda: [screen.scan(plant["SO-221"]), screen.scan(second)][-1]


@rule("PACK-TWICE")
def pack_again(plant: Plant, at: Opens) -> Iterator[Scan]:
    first, second = old(plant, 1), old(plant, 2)
    screen = packing(plant, at)
    screen.scan(first)
    yield lambda: screen.scan(first)
    yield lambda: screen.scan(second)


def gone_and_here(plant: Plant) -> list[str]:
    """Two packs, the first on its way."""
    first, second = packs(plant, old(plant, 1), old(plant, 2))
    plant.shift.scan(Dispatch(order="SO-220", packs=(first,), consignee="WHARFE", vehicle="PA 12"), person=WAREHOUSE)
    return [first, second]


@rule("REWRAP-GONE")
def rewrap_what_left(plant: Plant, at: Opens) -> Iterator[Scan]:
    first, second = gone_and_here(plant)
    screen = at("rewrap")
    yield lambda: screen.scan(first)
    yield lambda: screen.scan(second)


@rule("RACK-GONE")
def rack_what_left(plant: Plant, at: Opens) -> Iterator[Scan]:
    first, second = gone_and_here(plant)
    screen = at("rack")
    screen.scan(plant["R4-2"])
    yield lambda: screen.scan(first)
    yield lambda: screen.scan(second)


@rule("RACK-GONE")
def rack_a_hull_that_left(plant: Plant, at: Opens) -> Iterator[Scan]:
    _, second = gone_and_here(plant)
    screen = at("rack")
    screen.scan(plant["R4-2"])
    yield lambda: screen.scan("GHM-T430-000001")
    yield lambda: screen.scan(second)


@rule("RACK-HEAVY", "warned")
def rack_heavy(plant: Plant, at: Opens) -> Iterator[Scan]:
    first, second = old(plant, 1), old(plant, 2)
    screen = at("rack")
    screen.scan(plant["R4-2"])

    def typed() -> Page:
        page = screen.scan(first, weight="241")
        assert "takes 240 kg, 241 kg stand on it. That weight was typed." in page.verdict
        return page

    yield typed
    yield lambda: screen.scan(second, weight="")


@rule("RACK-HEAVY", "warned")
def rack_heavy_by_the_records(plant: Plant, at: Opens) -> Iterator[Scan]:
    """No weight is typed: eight kayaks stand there (one scanned again, two in packs), the ninth is too much."""
    serials = [old(plant, n) for n in range(1, 10)]
    first, second = packs(plant, *serials[:2])
    screen = at("rack")
    for code in (plant["R4-2"], first, second, *serials[2:8]):
        assert screen.scan(code).outcome in ("", "accepted")
    assert screen.scan(serials[2]).outcome == "accepted"

    def too_much() -> Page:
        page = screen.scan(serials[8])
        assert "takes 240 kg, 258.03 kg stand on it. No weight was typed" in page.verdict, page.verdict
        return page

    yield too_much
    yield lambda: screen.scan(serials[8], weight="239.5")


@rule("RACK-HIGH", "warned")
def rack_high(plant: Plant, at: Opens) -> Iterator[Scan]:
    first, second = old(plant, 1), old(plant, 2)
    screen = at("rack")
    screen.scan(plant["R4-2"])
    yield lambda: screen.scan(first, levels="4")
    yield lambda: screen.scan(second, levels="3")


def packs(plant: Plant, *serials: str, order: str = "SO-220") -> list[str]:
    shift = plant.shift
    return [shift.scan(Pack(order=order, hulls=(s,)), person=WAREHOUSE).made["codes"][0] for s in serials]


def truck(plant: Plant, open_: Opens, order: str = "SO-220") -> Screen:
    screen = open_("dispatch")
    screen.scan(plant[order])
    return screen


def leaves(screen: Screen, code: str) -> Page:
    screen.scan(code)
    return screen.press("gone", consignee="WHARFE", vehicle="PA 12")


@rule("NOTHING-LOADED")
def empty_truck(plant: Plant, at: Opens) -> Iterator[Scan]:
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    # The page offers no such button; one that was drawn before the last pack was taken off may still send it.
    yield lambda: screen.send(screen.page.form, {"consignee": "WHARFE"}, ("do", "gone"))  # type: ignore[union-attr]
    yield lambda: leaves(screen, code)


@rule("GATE-HELD")
def gate_held(plant: Plant, at: Opens) -> Iterator[Scan]:
    """E15: the page names the nearest free hull of that model and colour."""
    first, second = packs(plant, old(plant, 1), old(plant, 2))
    plant.shift.scan(Hold(code="GHM-T430-000001", reason="query"), person=QUALITY)
    screen = truck(plant, at)
    yield lambda: screen.scan(first)
    yield lambda: leaves(screen, second)


@rule("GATE-NOT-PACKED")
def gate_not_packed(plant: Plant, at: Opens) -> Iterator[Scan]:
    loose = old(plant, 3)
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    yield lambda: screen.scan(loose)
    yield lambda: leaves(screen, code)


@rule("GATE-OTHER-ORDER")
def gate_other_order(plant: Plant, at: Opens) -> Iterator[Scan]:
    [other] = packs(plant, old(plant, 2), order="SO-221")
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    yield lambda: screen.scan(other)
    yield lambda: leaves(screen, code)


@rule("GATE-OFF-ORDER")
def gate_off_order(plant: Plant, at: Opens) -> Iterator[Scan]:
    """The order was changed after the hull was packed for it."""
    red, lime = old(plant, 1), old(plant, 2, colour="lime")
    lines = [{"product": "T430", "colour": "lime", "quantity": 2}]
    [first] = packs(plant, red)
    define(plant, "sales_order", "SO-220", lines=lines)
    [second] = packs(plant, lime)
    screen = truck(plant, at)
    yield lambda: screen.scan(first)
    yield lambda: leaves(screen, second)


@rule("GATE-NO-CONSIGNEE")
def gate_nobody_chose(plant: Plant, at: Opens) -> Iterator[Scan]:
    """Nothing is filled in from the order: the name stands on the truck's paper."""
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    screen.scan(code)
    assert screen.page is not None
    assert "consignee" not in screen.page.form.values
    yield lambda: screen.press("gone", vehicle="PA 12")
    yield lambda: screen.press("gone", consignee="WHARFE")


@rule("GATE-CONSIGNEE")
def gate_consignee(plant: Plant, at: Opens) -> Iterator[Scan]:
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    screen.scan(code)
    yield lambda: screen.press("gone", consignee="LOCKGATE", vehicle="PA 12")
    yield lambda: screen.press("gone", consignee="WHARFE")


@rule("GATE-CONSIGNEE")
def gate_consignee_chosen_first(plant: Plant, at: Opens) -> Iterator[Scan]:
    """The paper is read before anything is scanned: the wrong order is stopped at its own scan."""
    [code] = packs(plant, old(plant, 1))
    screen = at("dispatch")
    yield lambda: screen.scan(plant["SO-221"], consignee="WHARFE")
    yield lambda: [screen.scan(plant["SO-220"]), screen.scan(code), screen.press("gone", vehicle="PA 12")][-1]


@rule("GATE-CONSIGNEE")
def gate_consignee_at_the_first_pack(plant: Plant, at: Opens) -> Iterator[Scan]:
    """Chosen wrong while loading: said at the next pack, not when the truck is full."""
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    yield lambda: screen.scan(code, consignee="LOCKGATE")
    yield lambda: [screen.scan(code, consignee="WHARFE"), screen.press("gone", vehicle="PA 12")][-1]


@rule("GATE-GONE")
def gate_gone(plant: Plant, at: Opens) -> Iterator[Scan]:
    first, second = packs(plant, old(plant, 1), old(plant, 2))
    plant.shift.scan(Dispatch(order="SO-220", packs=(first,), consignee="WHARFE", vehicle="PA 12"), person=WAREHOUSE)
    screen = truck(plant, at)
    yield lambda: screen.scan(first)
    yield lambda: leaves(screen, second)


@rule("GATE-NO-VEHICLE")
def gate_no_vehicle(plant: Plant, at: Opens) -> Iterator[Scan]:
    """E15: asked for before the truck is gone; a collector's name is an ordinary answer."""
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    screen.scan(code)
    yield lambda: screen.press("gone", consignee="WHARFE", vehicle=" ")
    yield lambda: screen.press("gone", collector="the dealer's son")


@rule("GATE-LIST-OLD")
def gate_list_old(plant: Plant, at: Opens) -> Iterator[Scan]:
    """E22: the page was left standing; the answer brings the newest list, and the next press goes by that."""
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    screen.scan(code)
    assert screen.page is not None
    form = screen.page.form.values
    number, made, kept = map(int, form["holds_listed"].split("."))
    form["holds_listed"] = f"{number}.{made - 16 * 60_000}.{kept}"
    yield lambda: screen.press("gone", consignee="WHARFE", vehicle="PA 12")
    yield lambda: screen.press("gone")


@rule("LABEL-REPLACED")
def old_label(plant: Plant, at: Opens) -> Iterator[Scan]:
    """E14: a re-wrap gives a new label and kills the old one."""
    [code] = packs(plant, old(plant, 1))
    wrap = at("rewrap")
    page = wrap.scan(code)
    new = next(link for link in page.links if link.startswith("/labels/")).partition("codes=")[2][:8]
    screen = truck(plant, at)
    yield lambda: screen.scan(code)
    yield lambda: leaves(screen, new)
