"""How many statements each station sends for its page and for its scans: query_counts.json, data under review.

Written anew by: WRITE_QUERY_COUNTS=1 pytest tests/scan/test_query_counts.py (then read what changed). Savepoints
are left out here; record() itself is held to ten in tests/recording/test_statements.py.
"""

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.scan.browser import Page, Screen
from tests.scan.cast import LEAD, SERIALS, Plant, cook, hull, month, weigh_all
from tests.scan.conftest import Opens
from tests.scan.rules.cases import scans
from tests.scan.rules.containment import walk_begun
from tests.scan.rules.desk import correcting, held
from tests.scan.rules.finishing import ALL
from tests.scan.rules.goods import DELIVERY, certified, received, two_at_opening
from tests.scan.rules.leaving import old, packs
from tests.scan.rules.loading import opened
from tests.scan.rules.mould_care import first_off_made
from tests.scan.rules.oven import before_start, carried, in_the_oven
from tests.scan.rules.plates import moulding_of
from tests.scan.rules.returns import gone
from tests.scan.rules.stock_counts import begun as begun_count
from tests.scan.rules.stock_counts import racked
from tests.scan.rules.tubs import with_tub
from tests.scan.rules.weighing import begun
from trace.recording.acts.demould import Demould
from trace.recording.acts.vessels import ProveEmpty
from trace.scan.stations import STATIONS

FILE = Path(__file__).with_name("query_counts.json")
Recording = Callable[[Plant, Opens], tuple[Screen, Callable[[], Page]]]


def weigh(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    return screen, lambda: screen.fill(gross="12.20")


def check_weight(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("check-weight")
    screen.scan(plant["W-3"])
    return screen, lambda: screen.fill(shown="10.00")


def load(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = opened(at, plant)
    return screen, lambda: screen.scan(plant["m8"])


def oven(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = before_start(plant, at)
    return screen, lambda: screen.press("start")


def demould(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    cook(plant)
    screen = at("demould")
    screen.scan(plant["T430-01"])
    return screen, lambda: screen.scan(SERIALS[0])


def cut(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    cook(plant)
    plant.shift.scan(Demould(mould="T430-01"))
    screen = at("cut")
    screen.scan(moulding_of(plant))
    return screen, lambda: screen.fill(parts="LEFT RIGHT")


def plates(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("plates")
    screen.fill(task="make")
    return screen, lambda: screen.fill(product="T430", first_number="6000", count="3", month=month())


def goods_in(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("goods-in")
    return screen, lambda: screen.press("book", **DELIVERY)


def certificate(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    code, screen = received(plant), at("certificate")
    screen.scan(code)
    return screen, lambda: screen.press("certify", lot_on_certificate="V-2402", value_mfi="3.5", value_density="0.938")


def release(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    code, screen = received(plant), at("release")
    certified(plant, code)
    screen.scan(code)
    return screen, lambda: screen.fill(why="certificate", why_words="in order")


def top_up(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("top-up")
    scans(screen, plant["vessel"], plant["natural"])
    return screen, lambda: screen.fill(amount="100")


def count(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("count")
    screen.scan(plant["natural"])
    return screen, lambda: screen.fill(amount="480", why="weighed", why_words="on the floor scale")


def scrap(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("scrap")
    screen.scan(plant["natural"])
    return screen, lambda: screen.fill(amount="2.5", why="spilt", why_words="at the hopper")


def give_back(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("give-back")
    screen.scan(plant["natural"])
    return screen, lambda: screen.press("all", note_no="RN-1")


def sample(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("sample")
    scans(screen, plant["natural"], plant["STORE"])
    return screen, lambda: screen.fill(amount="0.5")


def tub(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = with_tub(plant, at)
    return screen, lambda: screen.scan(plant["red"])


def handover(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    weigh_all(plant)
    screen = at("handover")
    return screen, lambda: screen.press("hand over", remark="a tub is short of its lid")


def mould_care(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("mould-care")
    screen.scan(plant["T430-02"])
    return screen, lambda: screen.press("vent")


def stop(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    in_the_oven(plant)
    screen = at("stop")
    screen.scan(plant["S1"])
    return screen, lambda: screen.press("stopped", minutes="12")


def carousel(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    """Two buoys go in on one arm."""
    carried(plant, "A1", 0)
    screen = at("carousel")
    screen.scan(plant["OVEN-1"])
    return screen, lambda: screen.press("moved", in_set_c="290")


def pre_use(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("pre-use")
    screen.scan(plant["OVEN-2"])
    return screen, lambda: screen.press("good", cold="yes")


def stock_count(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    serial = racked(plant)
    screen = begun_count(plant, at)
    return screen, lambda: screen.scan(serial)


def mount(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("mount")
    screen.scan(plant["T430-02"])
    return screen, lambda: screen.scan(plant["S2"])


def first_off(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    number = first_off_made(plant)
    screen = at("first-off")
    scans(screen, plant["T430-02"], number)
    return screen, lambda: screen.press("pass")


def inspect(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    hull(plant)
    screen = at("inspect")
    screen.scan(SERIALS[0])
    return screen, lambda: screen.press("pass", **ALL)


def impact(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    hull(plant)
    screen = at("impact")
    screen.scan(SERIALS[0])
    return screen, lambda: screen.press("pass", height="1.05", cold="40")


def pack(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    serial, screen = old(plant, 1), at("pack")
    screen.scan(plant["SO-220"])
    return screen, lambda: screen.scan(serial)


def rewrap(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    [code] = packs(plant, old(plant, 1))
    screen = at("rewrap")
    return screen, lambda: screen.scan(code)


def rack(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    serial, screen = old(plant, 1), at("rack")
    screen.scan(plant["R4-2"])
    return screen, lambda: screen.scan(serial)


def dispatch(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    [code] = packs(plant, old(plant, 1))
    screen = at("dispatch")
    scans(screen, plant["SO-220"], code)
    return screen, lambda: screen.press("gone", consignee="WHARFE", vehicle="PA 12")


def containment(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    serial = old(plant, 1)
    walk_begun(plant, serial)
    screen = at("containment")
    screen.scan(plant["STORE"])
    return screen, lambda: screen.scan(serial)


def returns(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("returns")
    scans(screen, gone(plant, 1), plant["R4-2"])
    return screen, lambda: screen.press("back", consignee="WHARFE")


def repairs(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    hull(plant)
    screen = at("repairs")
    screen.scan(SERIALS[0])
    screen.fill(spot="Z3", work="flamed")
    return screen, lambda: screen.press("repaired")


def hold(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("hold")
    screen.scan(plant["red"])
    return screen, lambda: screen.press("hold", why="damage", why_words="torn bag")


def release_hold(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    held(plant)
    screen = at("release-hold")
    screen.scan(plant["red"])
    return screen, lambda: screen.fill(why="tested and found good", why_words="density 0.938")


def correct(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = correcting(plant, at)
    return screen, lambda: screen.scan(plant["red2"], why="wrong box scanned", why_words="the other octabin")


def discrepancies(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    plant.shift.scan(ProveEmpty(vessel=plant["red2"]), person="P-05", mode="tells")
    screen = at("discrepancies")
    choice = next(c for c in screen.page.form.offered["discrepancy"] if c)  # type: ignore[union-attr]
    return screen, lambda: screen.fill(discrepancy=choice, why="counted", why_words="swept up")


def opening(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = two_at_opening(plant, at)
    return screen, lambda: screen.fill(material="LL-35", amount="120")


def badges(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("badges")
    return screen, lambda: screen.fill(name="Rafe P.", task_weighing="trained")


def labels(plant: Plant, at: Opens) -> tuple[Screen, Callable[[], Page]]:
    screen = at("labels", LEAD)
    screen.scan(plant["tubs"][0])
    return screen, lambda: screen.fill(why="burnt", why_words="beside the oven")


RECORDING: dict[str, Recording] = {
    each.__name__.replace("_", "-"): each
    for each in (
        weigh, check_weight, load, oven, demould, cut, plates, goods_in, certificate, release, top_up, count, inspect,
        impact, pack, rewrap, rack, dispatch, containment, hold, release_hold, correct, discrepancies, opening, badges,
        labels, scrap, returns, give_back, repairs, sample, tub, handover,
        mould_care, first_off, mount, stop, carousel, pre_use, stock_count,
    )
}  # fmt: skip


@pytest.fixture(scope="module")
def written() -> dict[str, dict[str, int]]:
    """The reviewed numbers; while they are written anew, what was counted goes in here."""
    known: dict[str, dict[str, int]] = json.loads(FILE.read_text(encoding="utf-8")) if FILE.exists() else {}
    return known


@pytest.mark.parametrize("slug", sorted(STATIONS))
def test_a_station_sends_as_many_statements_as_reviewed(
    plant: Plant, at: Opens, written: dict[str, dict[str, int]], slug: str
) -> None:
    """page: the bare station; refused: a code that was misread; recorded: a scan with its record and next page."""
    screen, record = RECORDING[slug](plant, at)
    recorded = record()
    assert recorded.outcome in ("accepted", "warned", "flagged"), recorded.verdict
    counts = {"recorded": screen.statements}
    screen.open(slug)
    counts["page"] = screen.statements
    if STATIONS[slug].takes_code:
        assert screen.scan("3334-3DRX").outcome == "refused"
        counts["refused"] = screen.statements
    if os.environ.get("WRITE_QUERY_COUNTS"):
        written[slug] = counts
        FILE.write_text(json.dumps(written, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    assert counts == written[slug]
