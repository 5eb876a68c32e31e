"""Scans at the same moment: some order of them one after the other explains every answer."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable
from decimal import Decimal
from functools import partial
from typing import Any

import pytest
from django.db import transaction

from tests.cast import LEAD, PACKER, PLANNER, QUALITY, STORES, WO_RED, Cast, again, rows_of
from tests.recording.test_oven import closed
from trace.codes import mg_to_kg, uuid7
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import CloseDiscrepancy
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.goods_in import Receive, Release
from trace.recording.acts.holds import Hold
from trace.recording.acts.opening import OldHull
from trace.recording.acts.oven import StartCook
from trace.recording.acts.packing import Pack
from trace.recording.acts.plates import MakePlates
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer
from trace.recording.commands import By, Command
from trace.recording.record import record

FOUND_MORE = 10_000_000  # 2 % of the 500 kg in each box: the invented plant's fill tolerance
AtOnce = Callable[..., list[Any]]


def scan(command: Command, **who: Any) -> Answer:
    said: dict[str, Any] = {"person": LEAD, "device": "t1", "scan_id": uuid7()}
    return record(command, By(**said | who))


def skin(cast: Cast, box: str, tub: str) -> Weigh:
    return Weigh(order=WO_RED, layer="skin", box=box, tub=tub, scale="W-3", gross="12.20")


def balance(code: str) -> int:
    return int(
        rows_of(
            """SELECT s.balance FROM label l JOIN carrier_state c ON c.carrier = l.carrier
                 JOIN unit_state s ON s.unit = c.content WHERE l.code = %s""",
            code,
        )[0][0]
    )


@pytest.fixture
def today(told: Cast) -> Cast:
    """The cast with the scale checked on the clock's own day: these scans get the server's time."""
    from trace.recording.acts.weighing import CheckWeight

    scan(CheckWeight(scale="W-3", shown="10.000"))
    return told


def little(cast: Cast, kg: str) -> str:
    """A vessel with this much red in it."""
    vessel: str = cast["vessels"][0]
    scan(TopUp(source=cast["red"], into=vessel, amount=kg))
    return vessel


def test_the_last_kilograms(today: Cast, at_once: AtOnce) -> None:
    """Enough for one charge: one gets it, the other is told the true rest."""
    box = little(today, "20")
    one, two = at_once(*[partial(scan, skin(today, box, today["tubs"][n]), device=f"t{n}") for n in (0, 1)])
    first, second = sorted((one, two), key=lambda a: a.outcome)
    assert (first.outcome, second.outcome, second.code) == ("accepted", "refused", "OVERDRAW")
    assert f"holds {mg_to_kg(20_000_000 - 12_200_000):.2f} kg" in second.what
    assert balance(box) == 7_800_000


def test_both_took_the_last_kilograms_and_tell_it(today: Cast, at_once: AtOnce) -> None:
    """Both are recorded, the second is flagged and held, and a person can close what is open."""
    box = little(today, "20")
    answers = at_once(
        *[partial(scan, skin(today, box, today["tubs"][n]), device=f"t{n}", mode="tells") for n in (0, 1)]
    )
    assert sorted(a.outcome for a in answers) == ["accepted", "flagged"]
    flagged = next(a for a in answers if a.outcome == "flagged")
    assert flagged.code == "OVERDRAW"
    assert balance(box) == 20_000_000 - 2 * 12_200_000
    charge = next(u["uid"] for u in flagged.made["units"])
    held = rows_of("SELECT count(*) FROM unit_hold x JOIN unit u ON u.id = x.unit WHERE u.uid = %s", charge)
    assert held == [(1,)]
    open_ = rows_of(
        """SELECT e.uid::text, d.n FROM discrepancy d JOIN event e ON e.id = d.event
            WHERE d.closed_by IS NULL ORDER BY 1, 2"""
    )
    assert {kind for (kind,) in rows_of("SELECT kind FROM discrepancy")} == {"overdrawn", "told, but: OVERDRAW"}
    for event, n in open_:
        scan(CloseDiscrepancy(event=event, n=n, reason="both bags looked at"), person=QUALITY)
    assert rows_of("SELECT 1 FROM discrepancy WHERE closed_by IS NULL") == []
    assert differences() == []


def explained(stock: dict[str, int], slack: dict[str, int], asked: list[tuple[str, int]], accepted: list[bool]) -> bool:
    """Is there an order in which these draws, one after the other, are answered so?

    `slack`: how much more may still be found in a box than its book says.
    """
    for order in itertools.permutations(range(len(asked))):
        left, more = dict(stock), dict(slack)
        fits = True
        for n in order:
            box, amount = asked[n]
            enough = amount - left[box] <= more[box]
            fits = fits and enough == accepted[n]
            if enough:
                more[box] -= max(0, amount - left[box])
                left[box] = max(0, left[box] - amount)
        if fits:
            return True
    return False


def gained(code: str) -> int:
    return int(
        rows_of(
            """SELECT COALESCE(sum(d.amount), 0) FROM difference d JOIN carrier_state c ON c.content = d.unit
                 JOIN label l ON l.carrier = c.carrier WHERE l.code = %s""",
            code,
        )[0][0]
    )


@pytest.mark.parametrize("seed", range(8))
def test_some_order_explains_all_answers(today: Cast, at_once: AtOnce, seed: int) -> None:
    """Several boxes, weighings and top-ups at once, again and again; stock never goes below zero."""
    dice = random.Random(seed)
    boxes = [today["natural"], today["natural2"]]
    targets = again(today).shift.carriers("vessel", 2)
    for _ in range(4):
        stock = {box: balance(box) for box in boxes}
        slack = {box: FOUND_MORE - gained(box) for box in boxes}
        asked, work = [], []
        for n in range(4):
            box = dice.choice(boxes)
            amount = dice.choice([1, stock[box] // 3, stock[box] // 2, stock[box]]) // 1000 * 1000 or 1000
            kg = str(Decimal(mg_to_kg(amount)))
            asked.append((box, amount))
            command = TopUp(source=box, into=targets[n % 2], amount=kg)
            work.append(partial(scan, command, device=f"t{n}"))
        answers = at_once(*work)
        accepted = [a.outcome != "refused" for a in answers]
        assert {a.code for a in answers if a.outcome == "refused"} <= {"OVERDRAW", "SOURCE-USED-UP"}
        assert explained(stock, slack, asked, accepted)
        for box in boxes:
            taken = sum(a for (b, a), yes in zip(asked, accepted, strict=True) if yes and b == box)
            assert balance(box) == stock[box] - taken + slack[box] - (FOUND_MORE - gained(box))
        assert rows_of("SELECT count(*) FROM unit_state WHERE balance < 0") == [(0,)]
    assert differences() == []


def test_a_hold_and_a_weighing_at_once(today: Cast, at_once: AtOnce) -> None:
    """Whichever comes first: no charge of a held box is free of its hold."""
    for n, tub in enumerate(again(today).shift.carriers("tub", 6)):
        hold = Hold(code=today["red"], rule="quality", reason="density")
        at_once(
            partial(scan, skin(today, today["red"], tub), device="t1", mode="tells"),
            partial(scan, hold, device="t2", person=QUALITY),
        )
        free = rows_of(
            """SELECT c.id FROM hold h JOIN edge e ON e.parent = h.unit JOIN unit c ON c.id = e.child
                WHERE NOT EXISTS (SELECT FROM unit_hold x WHERE x.unit = c.id AND x.hold = h.id)"""
        )
        assert free == [], n


def test_a_failed_cook_and_a_tip_at_once_leave_no_child_free(today: Cast, at_once: AtOnce) -> None:
    """A hold that comes with a flagged fact is laid alone too: here on a charge that is being tipped."""
    from trace.recording.acts.loading import ReadyMould
    from trace.recording.acts.tipping import TipTub

    scan(skin(today, today["red"], today["tubs"][0]))
    scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    at_once(
        partial(scan, TipTub(mould="T430-01", tub=today["tubs"][0]), device="t1"),
        partial(scan, Hold(code=today["tubs"][0], rule="quality", reason="wet"), device="t2", person=QUALITY),
    )
    free = rows_of(
        """SELECT c.kind FROM hold h JOIN edge e ON e.parent = h.unit JOIN unit c ON c.id = e.child
            WHERE NOT EXISTS (SELECT FROM unit_hold x WHERE x.unit = c.id AND x.hold = h.id)"""
    )
    assert free == []


def test_one_arm_goes_into_the_oven_once(told: Cast, at_once: AtOnce) -> None:
    """Two screens, each with another mould of the arm."""
    moulds = ("T430-01", "T430-02")
    for n, mould in enumerate(moulds):
        closed(told, mould, n)
    starts = [StartCook(oven="OVEN-2", arm="S1", moulds=(mould,)) for mould in moulds]
    answers = at_once(*[partial(scan, start, device=f"t{n}") for n, start in enumerate(starts)])
    assert sorted(answer.code for answer in answers) == ["LOGGER-NOT-SCANNED", "SECOND-OPEN-CYCLE"]
    assert rows_of("SELECT count(*) FROM mould_state WHERE stage = 'in oven'") == [(1,)]


def test_a_release_does_not_undo_a_draw(told: Cast, at_once: AtOnce) -> None:
    """The release of a lot writes the state of all its containers; a draw from one of them stays."""
    said = Receive(supplier="VERRIN", material="LL-35", lot_no="V-9000", amounts=("300.00",) * 8)
    codes = scan(said, person=STORES).made["codes"]
    from trace.recording.acts.goods_in import Certify

    scan(Certify(container=codes[0], lot_on_certificate="V-9000", values={"mfi": "3.5", "density": "0.938"}),
         person=QUALITY)  # fmt: skip
    vessels = again(told).shift.carriers("vessel", 8)
    work = [partial(scan, Release(container=codes[0]), person=QUALITY, device="t0")]
    work += [
        partial(scan, TopUp(source=code, into=vessel, amount="100"), device=f"t{n}", mode="tells")
        for n, (code, vessel) in enumerate(zip(codes, vessels, strict=True), 1)
    ]
    at_once(*work)
    assert [balance(code) for code in codes] == [200_000_000] * 8
    assert differences() == []


def test_one_moulding_gets_one_plate(told: Cast, at_once: AtOnce) -> None:
    """Bound by its mould at one screen and by its number at another."""
    told.moulding()
    late_plate = {"PLATE-OTHER-MONTH": "the cast lives in June"}
    number = told.scan(Demould(mould="T430-01")).made["units"][0]["lot_no"]
    answers = at_once(
        partial(scan, Bind(mould="T430-01", plate="GHM-T430-004401"), device="t1", overrides=late_plate),
        partial(scan, Bind(mouldings=(number,), plate="GHM-T430-004402"), device="t2", overrides=late_plate),
    )
    assert sorted(a.outcome for a in answers) == ["refused", "warned"]
    assert rows_of("SELECT count(*) FROM unit WHERE kind = 'hull'") == [(1,)]


def test_two_packers_do_not_fill_one_order_twice(told: Cast, at_once: AtOnce) -> None:
    """Four sleds are ordered, three are packed, and two people pack the fourth."""
    serials = [f"GHM-H320-0000{n:02d}" for n in range(1, 6)]
    for serial in serials:
        scan(OldHull(serial=serial, product="H320", colour="lime", place="STORE"), person=PLANNER)
    for serial in serials[:3]:
        scan(Pack(order="SO-222", hulls=(serial,)), person=PACKER)
    packing = [partial(scan, Pack(order="SO-222", hulls=(s,)), person=PACKER) for s in serials[3:]]
    answers = at_once(*(partial(pack, device=f"t{n}") for n, pack in enumerate(packing)))
    assert sorted(a.code for a in answers) == ["", "PACK-OVER-ORDER"]
    assert rows_of("SELECT count(*) FROM edge WHERE role = 'pack'") == [(4,)]


def test_two_deliveries_of_one_new_lot_are_one_lot(told: Cast, at_once: AtOnce) -> None:
    said = Receive(supplier="VERRIN", material="LL-35", lot_no="V-7777", amounts=("300.00",))
    at_once(*[partial(scan, said, person=STORES, device=f"t{n}") for n in range(4)])
    assert rows_of("SELECT count(*) FROM unit WHERE kind = 'lot' AND lot_no = 'V-7777'") == [(1,)]


def test_one_number_is_given_to_one_plate(told: Cast, at_once: AtOnce) -> None:
    """Two batches with one number at once: one is made, the other is refused in a sentence."""
    said = MakePlates(product="T430", serials=("GHM-T430-009001",))
    answers = at_once(*[partial(scan, said, device=f"t{n}") for n in range(3)])
    assert sorted((a.outcome, a.code) for a in answers) == [
        ("accepted", ""), ("refused", "PLATE-AGAIN"), ("refused", "PLATE-AGAIN"),
    ]  # fmt: skip


def test_plant_data_defined_at_once_is_known_at_once(told: Cast, at_once: AtOnce) -> None:
    """Two revisions whose numbers come in another order than their commits: neither stays unknown."""
    from trace.readmodels import plantdata
    from trace.recording.acts.setup import Define

    keys = ("tub litres", "drop box litres", "tub tare kg", "drop box tare kg", "tare tolerance kg", "fill tolerance")
    at_once(
        *[partial(scan, Define(kind="setting", key=key, body={"value": f"{n}.5"}), person="P-09", device=f"t{n}")
          for n, key in enumerate(keys)]
    )  # fmt: skip
    with transaction.atomic():
        newest = plantdata.newest()
    assert [newest.setting(key, None) for key in keys] == [f"{n}.5" for n in range(6)]
    answers = at_once(
        *[partial(scan, Define(kind="setting", key="plant-name", body={"value": f"{n}"}), person="P-09", device=f"t{n}")
          for n in range(4)]
    )  # fmt: skip
    assert [a.outcome for a in answers] == ["accepted"] * 4
    versions = """SELECT array_agg(version ORDER BY version) FROM revision v JOIN resource r ON r.id = v.thing
        WHERE r.key = 'plant-name'"""
    assert rows_of(versions) == [([1, 2, 3, 4],)]
