"""Rules met from the pack to the truck. Hulls made before records are quick to tell and pass the same gate."""

from collections.abc import Iterator
from datetime import timedelta

from django.utils import timezone

from tests.scan.browser import Page, Screen
from tests.scan.cast import QUALITY, SERIALS, WAREHOUSE, Plant, cook, hull, passed
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from tests.scan.rules.plates import moulding_of
from tests.scan.rules.weighing import define
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.goods_in import Release
from trace.recording.acts.holds import Hold
from trace.recording.acts.opening import OldHull
from trace.recording.acts.packing import Dispatch, Pack


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


@rule("TIME-BEFORE-MADE")
def rack_before_it_was_made(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial = passed(plant)
    screen = at("rack", late="yes")
    screen.scan(plant["R4-2"])
    then, now = timezone.localtime() - timedelta(days=2), timezone.localtime()
    yield lambda: screen.scan(serial, happened=f"{then:%Y-%m-%d %H:%M}")
    yield lambda: screen.scan(serial, happened=f"{now:%Y-%m-%d %H:%M:%S.%f}")


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
    """The page names the nearest free hull of that model and colour."""
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
    """Asked for before the truck is gone; a collector's name is an ordinary answer."""
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    screen.scan(code)
    yield lambda: screen.press("gone", consignee="WHARFE", vehicle=" ")
    yield lambda: screen.press("gone", collector="the dealer's son")


@rule("GATE-LIST-OLD")
def gate_list_old(plant: Plant, at: Opens) -> Iterator[Scan]:
    """The page was left standing; the answer brings the newest list, and the next press goes by that."""
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
    """A re-wrap gives a new label and kills the old one."""
    [code] = packs(plant, old(plant, 1))
    wrap = at("rewrap")
    page = wrap.scan(code)
    new = next(link for link in page.links if link.startswith("/labels/")).partition("codes=")[2][:8]
    screen = truck(plant, at)
    yield lambda: screen.scan(code)
    yield lambda: leaves(screen, new)
