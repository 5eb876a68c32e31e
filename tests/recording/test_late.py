"""Facts told late, in another order than they happened, and put right: held against a plain replay from scratch."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from tests.cast import LEAD, MORNING, QUALITY, STORES, WO_RED, Cast, rows_of
from tests.recording.carriers import Carriers, Fact, after
from trace.codes import mg_to_kg
from trace.demo import plant as invented
from trace.genealogy.walk import reach
from trace.lookup import drawn_from
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.draws import _out_of_turn
from trace.recording.acts.goods_in import Certify, Receive, Release
from trace.recording.acts.holds import Hold
from trace.recording.acts.setup import Define
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import CheckWeight, Weigh
from trace.recording.commands import Command

KG = 1_000_000
CHARGE = 12_200_000
BEGIN = MORNING + timedelta(hours=6)


def minute(n: int) -> datetime:
    return BEGIN + timedelta(minutes=n)


class Story:
    """Facts told to the product and to the plain reckoning."""

    def __init__(self, cast: Cast) -> None:
        self.cast = cast
        cast.clock.now = BEGIN + timedelta(days=1)
        one, two = cast["vessels"]
        self.codes = {"A": cast["red"], "B": cast["red2"], "K": one, "L": two}
        self.stock = {"A": ("V-2288", 500 * KG), "B": ("V-2291", 500 * KG), "K": ("", 0), "L": ("", 0)}
        self.tubs = cast.shift.carriers("tub", 40)
        self.facts: list[Fact] = []
        self.events: dict[int, str] = {}

    def tell(self, fact: Fact, *, as_said: Fact | None = None) -> str:
        """Record it (as somebody said it, if that was another source or amount); the event's uid."""
        if fact.kind == "weigh" and not fact.into:
            fact.into = self.tubs.pop()
        said = replace(as_said, into=fact.into) if as_said else fact
        kg = str(mg_to_kg(said.amount))
        code = self.codes[said.source]
        command: Command
        if said.kind == "weigh":
            command = Weigh(order=WO_RED, layer="skin", box=code, tub=said.into, scale="W-3", gross=kg)
        elif said.kind == "topup":
            command = TopUp(source=code, into=self.codes[said.into], amount=kg)
        elif said.kind == "count":
            command = Count(box=code, amount=kg, reason="weighed")
        else:
            command = ProveEmpty(vessel=code)
        self.cast.late(command, said.at, person=LEAD)
        self.facts.append(fact)
        return str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])

    def right(self, event: str, said: Fact, fact: Fact) -> None:
        """Put an event right: another source, another amount, or both."""
        amount = str(mg_to_kg(fact.amount)) if fact.amount != said.amount else ""
        # Out of an empty carrier comes nothing that could be put right: only that nobody knows.
        before = after([f for f in self.facts if f.at < fact.at], self.stock)
        now = self.codes[fact.source] if before.now[fact.source] else ""
        self.cast.scan(
            Correct(event=event, was=self.codes[said.source], now=now, amount=amount, reason="read"),
            person=LEAD,
        )  # fmt: skip

    def hold(self, lot: str) -> None:
        self.cast.scan(Hold(code=lot, rule="quality", reason="density query"), person=QUALITY)

    def check(self, held: str = "") -> None:
        """Balances, lots in each charge, and what is under the hold on lot `held`, are those of the plain replay."""
        wanted = after(self.facts, self.stock)
        assert balances(self.codes) == book(wanted)
        lots = {tub: found or frozenset({"?"}) for tub, found in wanted.charges.items()}
        assert lots_in_charges(self.tubs_used()) == {tub: found - {"?"} for tub, found in lots.items()}
        # What nobody knows must stand as a gap in the charge or in something it came out of: no false "cannot".
        assert tubs_with_gaps(self.tubs_used()) == {tub for tub, found in lots.items() if "?" in found}
        if held:
            reached = {tub for tub, lots in wanted.charges.items() if lots and held in lots}
            assert held_tubs(self.tubs_used()) == reached
        assert balances_agree() == []
        assert differences() == []

    def tubs_used(self) -> list[str]:
        return [f.into for f in self.facts if f.kind == "weigh"]


def book(carriers: Carriers) -> dict[str, int | None]:
    return {c: None if f is None else f.balance - f.gained for c, f in carriers.now.items()}


def balances(codes: dict[str, str]) -> dict[str, int | None]:
    """What each carrier holds by the book, without what was found in it over the book; None when empty."""
    found = {}
    for name, code in codes.items():
        found[name] = rows_of(
            """SELECT s.balance - COALESCE((SELECT sum(amount) FROM difference d WHERE d.unit = c.content
                       AND d.cause = 'fill difference'), 0)::bigint
                 FROM label l JOIN carrier_state c ON c.carrier = l.carrier
                 LEFT JOIN unit_state s ON s.unit = c.content WHERE l.code = %s""",
            code,
        )[0][0]
    return found


def charge_of(tub: str) -> int:
    return int(
        rows_of("SELECT c.content FROM label l JOIN carrier_state c ON c.carrier = l.carrier WHERE l.code = %s", tub)[
            0
        ][0]
    )


def lots_in_charges(tubs: list[str]) -> dict[str, frozenset[str]]:
    found = {}
    for tub in tubs:
        ids = reach([charge_of(tub)], "back")
        lots = rows_of("SELECT lot_no FROM unit WHERE kind = 'lot' AND id = ANY (%s)", list(ids))
        found[tub] = frozenset(lot for (lot,) in lots)
    return found


def tubs_with_gaps(tubs: list[str]) -> set[str]:
    """Tubs whose charge, or something that went into it, is of a source that nobody recorded."""
    found = set()
    for tub in tubs:
        ids = list(reach([charge_of(tub)], "back"))
        if rows_of("SELECT 1 FROM gap WHERE what = 'source' AND unit = ANY (%s)", ids):
            found.add(tub)
    return found


def held_tubs(tubs: list[str]) -> set[str]:
    """Tubs whose charge is under the hold that a person laid on the lot."""
    return {
        tub
        for tub in tubs
        if rows_of(
            "SELECT 1 FROM unit_hold x JOIN hold h ON h.id = x.hold WHERE x.unit = %s AND h.rule = 'quality'",
            charge_of(tub),
        )
    }


def balances_agree() -> list[tuple[object, ...]]:
    """Units whose balance is not what they began with, less what left them by live edges, plus differences."""
    return rows_of(
        """SELECT u.kind, u.lot_no, s.status, s.balance, u.amount, x.gone, d.diff
             FROM unit u JOIN unit_state s ON s.unit = u.id,
           LATERAL (SELECT COALESCE(sum(e.amount), 0) AS gone FROM edge e WHERE e.parent = u.id AND NOT e.aside
                     AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id)) x,
           LATERAL (SELECT COALESCE(sum(amount), 0) AS diff FROM difference WHERE unit = u.id) d
           WHERE s.balance <> u.amount - x.gone + d.diff"""
    )


def put(at: int, kg: str, source: str = "A", into: str = "K") -> Fact:
    return Fact(minute(at), "topup", source, into, round(float(kg) * KG))


def weigh(at: int, source: str = "K") -> Fact:
    return Fact(minute(at), "weigh", source, "", CHARGE)


def empty(at: int, source: str = "K") -> Fact:
    return Fact(minute(at), "empty", source)


def count(at: int, kg: str, source: str = "K") -> Fact:
    return Fact(minute(at), "count", source, "", round(float(kg) * KG))


@pytest.fixture
def story(cast: Cast) -> Story:
    return Story(cast)


# What each row tells, in the order in which it is told; the times say how it was.
CASES: dict[str, list[Fact]] = {
    "in order": [put(0, "100"), weigh(1), put(2, "100", "B"), weigh(3)],
    "a top-up told late": [put(0, "100"), weigh(1), weigh(3), weigh(4), put(2, "100", "B")],
    "a draw told late": [put(0, "100"), put(2, "100", "B"), weigh(3), weigh(1)],
    "the first filling told last": [put(2, "100", "B"), weigh(3), put(0, "100"), weigh(1)],
    "two facts late": [put(0, "100"), weigh(4), put(3, "50"), weigh(5), put(1, "30", "B"), weigh(2)],
    "a top-up before an emptying": [put(0, "20"), weigh(2), empty(3), put(4, "50"), weigh(5), put(1, "30", "B")],
    "an emptying told late": [put(0, "20"), weigh(1), put(3, "50", "B"), weigh(4), empty(2)],
    "two emptyings late": [put(0, "20"), put(3, "50", "B"), weigh(4), put(7, "40"), weigh(8), empty(6), empty(2)],
    "through two vessels": [put(0, "90"), put(2, "40", "K", "L"), weigh(3, "L"), put(1, "60", "B"), weigh(4, "L")],
    "into the second vessel late": [put(0, "90"), put(3, "40", "K", "L"), weigh(4, "L"), put(2, "30", "K", "L"),
                                    put(1, "5", "B")],
    "a vessel's book empty": [put(0, "24.4"), weigh(1), weigh(2), put(3, "24.4", "B"), weigh(4)],
    "found more in it": [put(0, "24.3"), weigh(1), weigh(2), put(3, "24.4", "B"), weigh(4)],
    "a top-up explains what was over": [put(0, "20"), weigh(1), weigh(3), put(2, "30", "B")],
    "a draw told late makes it over": [put(0, "24.4"), weigh(2), weigh(3), put(4, "50", "B"), weigh(5), weigh(1)],
    "taken before anything was in it": [weigh(1), put(2, "30", "B")],
    "a count in order": [put(0, "100"), weigh(1), count(2, "60"), weigh(3), put(4, "20", "B"), weigh(5)],
    "a count told late": [put(0, "100"), weigh(1), weigh(3), put(4, "20", "B"), weigh(5), count(2, "60")],
    "a draw before a count": [put(0, "100"), count(2, "60"), weigh(3), put(4, "20", "B"), weigh(5), weigh(1)],
    "a top-up before a count": [put(0, "100"), count(2, "90"), weigh(3), put(4, "20", "A"), put(1, "30", "B")],
    "a count of nothing": [put(0, "24.4"), weigh(1), count(2, "0"), put(3, "30", "B"), weigh(4)],
    "a count of nothing told late": [put(0, "24.4"), weigh(1), put(3, "30", "B"), weigh(4), count(2, "0")],
    "found again by a count": [put(0, "24.4"), weigh(1), weigh(2), count(3, "5"), put(5, "10", "B"), put(4, "1", "B")],
    "two counts, the first told last": [put(0, "100"), count(4, "60"), weigh(5), count(2, "95"), weigh(1), weigh(3)],
    "a count of an octabin": [weigh(1, "A"), count(3, "450", "A"), weigh(4, "A"), weigh(2, "A")],
}  # fmt: skip


@pytest.mark.parametrize("facts", CASES.values(), ids=list(CASES))
def test_told_late(story: Story, facts: list[Fact]) -> None:
    story.hold("V-2291")
    for fact in facts:
        story.tell(replace(fact))
    story.check(held="V-2291")


@pytest.mark.parametrize("facts", CASES.values(), ids=list(CASES))
def test_held_afterwards(story: Story, facts: list[Fact]) -> None:
    for fact in facts:
        story.tell(replace(fact))
    story.hold("V-2291")
    story.check(held="V-2291")


@pytest.mark.parametrize("told_late", [False, True])
def test_what_is_poured_into_another_carrier_gets_no_younger(cast: Cast, *, told_late: bool) -> None:
    """FM-22 stays open for 30 days at most, also in a box and in the vessel after it, and in a mix with a fresh bag."""
    (other, box), vessel, bag = cast.shift.carriers("container", 2), cast["vessels"][0], cast["foam"][0]
    opened = cast.clock.now
    first = TopUp(source=bag, into=other, amount="5")
    if not told_late:
        cast.late(first, opened, person=LEAD)
    cast.clock.now = opened + timedelta(days=20)
    cast.scan(TopUp(source=bag, into=box, amount="15"), person=LEAD)
    cast.scan(TopUp(source=box, into=vessel, amount="15"), person=LEAD)
    if told_late:
        cast.late(first, opened, person=LEAD)
    cast.scan(TopUp(source=cast["foam"][1], into=vessel, amount="10"), person=LEAD)
    foam = Weigh(order=WO_RED, layer="foam", box=vessel, tub=cast["boxes"][0], scale="W-3", gross="9.15")
    cast.clock.now = opened + timedelta(days=29)
    cast.scan(CheckWeight(scale="W-3", shown="10.000"), station="weighing")
    cast.scan(foam)
    cast.clock.now = opened + timedelta(days=31)
    cast.scan(CheckWeight(scale="W-3", shown="10.000"), station="weighing")
    late = Weigh(order=WO_RED, layer="foam", box=vessel, tub=cast["boxes"][1], scale="W-3", gross="9.15")
    assert cast.scan(late, expect="SOURCE-OPEN-TOO-LONG").code == "SOURCE-OPEN-TOO-LONG"
    assert differences() == []


def random_facts(dice: random.Random) -> list[Fact]:
    """A shift's facts in the order in which they happened: two lots, two vessels, charges, a vessel proved empty."""
    facts = [put(0, dice.choice(["20", "40", "60"]), dice.choice("AB"), "K")]
    for at in range(1, dice.randint(5, 12)):
        what = dice.random()
        if what < 0.5:
            facts.append(weigh(at, dice.choice("KKKLA")))
        elif what < 0.75:
            facts.append(put(at, dice.choice(["5", "13.7", "30", "50"]), dice.choice("AB"), dice.choice("KKL")))
        elif what < 0.85:
            facts.append(put(at, dice.choice(["5", "12.3"]), *dice.choice(["KL", "LK"])))
        elif what < 0.92:
            # What never stands empty: a count of an empty vessel is refused.
            facts.append(count(at, dice.choice(["440", "470.5"]), dice.choice("AB")))
        else:
            facts.append(empty(at, dice.choice("KL")))
    return facts


def out_of_order(dice: random.Random, facts: list[Fact]) -> list[Fact]:
    """Most in order, some late by up to the whole shift."""
    return sorted(facts, key=lambda f: f.at + timedelta(minutes=dice.choice([0, 0, 0, 1.5, 3.5, 20])))


@pytest.mark.parametrize("seed", range(25))
def test_any_shift_told_in_any_order(story: Story, seed: int) -> None:
    dice = random.Random(seed)
    facts = random_facts(dice)
    if seed % 2:
        story.hold("V-2291")
    for fact in out_of_order(dice, facts):
        story.tell(fact)
    if not seed % 2:
        story.hold("V-2291")
    story.check(held="V-2291")


@pytest.mark.parametrize("seed", range(25))
def test_any_shift_put_right(story: Story, seed: int) -> None:
    """Some were told with another source or another amount, and put right afterwards, in any order."""
    dice = random.Random(1000 + seed)
    facts = random_facts(dice)
    wrong = []
    for fact in facts:
        said = None
        if fact.kind not in ("empty", "count") and dice.random() < 0.4:
            source = dice.choice([x for x in "ABKL" if x != fact.into])
            amount = fact.amount if dice.random() < 0.5 else fact.amount + dice.choice([-KG, KG])
            said = replace(fact, source=source, amount=amount)
        event = story.tell(fact, as_said=said)
        if said is not None and (said.source, said.amount) != (fact.source, fact.amount):
            wrong.append((event, said, fact))
    dice.shuffle(wrong)
    for event, said, fact in wrong:
        story.right(event, said, fact)
    story.check()


def test_records_that_a_late_fact_moved_stay_apart(story: Story) -> None:
    """Two weighings are added again by a late top-up: each is still a record of its own, and put right alone."""
    said = [put(0, "100"), weigh(2), weigh(3)]
    events = [story.tell(replace(fact)) for fact in said]
    late = story.tell(put(1, "60", "B"))
    sql = "SELECT c.uid::text FROM carrier c JOIN label l ON l.carrier = c.id WHERE l.code = %s"
    carrier = rows_of(sql, story.codes["K"])[0][0]
    listed = [(row["event"], row["amount"]) for row in drawn_from(carrier)]
    assert listed == [(events[2], CHARGE), (events[1], CHARGE)]
    story.right(events[1], said[1], replace(said[1], amount=CHARGE - KG))
    now = {row["event"]: row["amount"] for row in drawn_from(carrier)}
    assert now == {events[2]: CHARGE, events[1]: CHARGE - KG}
    # The late fact itself took from B alone.
    refused = story.cast.scan(Correct(event=late, was=story.codes["K"], now=story.codes["B"], reason="x"), person=LEAD,
                              expect="NOTHING-TO-CORRECT")  # fmt: skip
    assert refused.outcome == "refused"
    assert balances_agree() == []
    assert differences() == []


def change(cast: Cast, kind: str, key: str, body: dict[str, Any]) -> None:
    cast.scan(Define(kind=kind, key=key, body=body), person="P-09")


def test_what_is_told_late_is_judged_by_the_plant_data_of_its_time(cast: Cast) -> None:
    """A scale, a recipe and a switched rule, each changed between the act and its telling."""
    weigh = Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][0], scale="W-3", gross="12.20")
    then = cast.clock()
    scale, kayak = invented.INSTRUMENTS["W-3"], invented.products()["T430"]
    change(cast, "instrument", "W-3", {**scale, "calibration_due": "2026-06-01"})
    change(cast, "product", "T430", {**kayak, "layers": invented.layers("15.00", "9.15", "7.32")})
    overdue = cast.clock()
    change(cast, "instrument", "W-3", scale)
    change(cast, "setting", "rule:SCALE-OVERDUE", {"value": "off"})
    assert cast.scan(weigh, expect="CHARGE-LIGHT").code == "CHARGE-LIGHT"
    assert cast.late(weigh, then).outcome == "accepted"
    later = replace(weigh, tub=cast["tubs"][1], gross="15.00")
    told = cast.late(later, overdue)
    assert (told.outcome, told.code) == ("flagged", "SCALE-OVERDUE")
    assert cast.scan(replace(weigh, tub=cast["tubs"][2], gross="15.00")).outcome == "accepted"


def test_a_thing_entered_after_the_act_counts_as_it_is(cast: Cast) -> None:
    """A paper day: the order was entered in the evening, the powder weighed for it in the morning."""
    then = cast.clock()
    change(cast, "works_order", "WO-2000", {"product": "T430", "colour": "red", "quantity": 4, "purpose": "production"})
    weigh = Weigh(order="WO-2000", layer="skin", box=cast["red"], tub=cast["tubs"][0], scale="W-3", gross="12.20")
    assert cast.late(weigh, then).outcome == "accepted"


def test_what_was_released_only_after_the_act_was_not_released(cast: Cast) -> None:
    code = cast.scan(
        Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2400", amounts=("100",)), person=STORES
    ).made["codes"][0]
    then = cast.clock()
    cast.clock.now += timedelta(hours=1)
    cast.scan(Certify(container=code, lot_on_certificate="V-2400", values={"mfi": "3.5", "density": "0.938"}),
              person=QUALITY)  # fmt: skip
    cast.scan(Release(container=code, reason="certificate"), person=QUALITY)
    weigh = Weigh(order=WO_RED, layer="skin", box=code, tub=cast["tubs"][0], scale="W-3", gross="12.20")
    told = cast.late(weigh, then)
    assert (told.outcome, told.code) == ("flagged", "SOURCE-NOT-RELEASED")
    assert cast.scan(replace(weigh, tub=cast["tubs"][1])).outcome == "accepted"


def test_what_is_mixed_with_something_in_quarantine_is_in_quarantine(cast: Cast) -> None:
    """Told as poured in between two fillings: what is in the vessel now came on top of it."""
    received = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-9", amounts=("20",))
    code, vessel = cast.scan(received, person=STORES).made["codes"][0], cast["vessels"][0]
    then = cast.clock()
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="20"), person=LEAD)
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="20"), person=LEAD)
    assert cast.late(TopUp(source=code, into=vessel, amount="5"), then, person=LEAD).code == "SOURCE-NOT-RELEASED"
    status = rows_of("SELECT s.status FROM label l JOIN carrier_state c ON c.carrier = l.carrier"
                     " JOIN unit_state s ON s.unit = c.content WHERE l.code = %s", vessel)  # fmt: skip
    assert status == [("quarantine",)]
    cast.late(TopUp(source=cast["red"], into=vessel, amount="5"), then + timedelta(seconds=90), person=LEAD)
    assert rows_of("SELECT s.status FROM label l JOIN carrier_state c ON c.carrier = l.carrier"
                   " JOIN unit_state s ON s.unit = c.content WHERE l.code = %s", vessel) == status  # fmt: skip
    assert differences() == []


@pytest.mark.parametrize(
    ("late", "kind", "balance", "gained", "out"),
    [
        (True, "content", 5, 0, True),
        (False, "content", 5, 0, False),  # told in order
        (True, "content", 10, 0, False),  # there is enough of it
        (True, "content", 10, 1, True),  # it went over its book before
        (True, "content", None, 0, False),  # nobody knows how much there was
        (True, "charge", 5, 0, True),  # samples and scrap leave a tub as they leave a box
    ],
)
def test_out_of_turn_is_what_is_told_late_of_more_than_there_is(
    *, late: bool, kind: str, balance: int | None, gained: int, out: bool
) -> None:
    floor: Any = SimpleNamespace(happened=minute(0), now=minute(1 if late else 0))
    unit: Any = SimpleNamespace(kind=kind, balance=balance, gained=gained)
    assert _out_of_turn(floor, unit, 10) == out


def test_draws_over_the_book_leave_the_same_book_in_whatever_order_they_are_told(cast: Cast) -> None:
    """What its fill may be off by covers the draw that happened first, not the one that was told first."""
    bags = cast.shift.stock("DUNSAY", "FM-22", "F-130", ("25.00", "25.00"), expires="2027-06-30")
    cast.clock.now = minute(10)
    vessels = iter(cast.shift.carriers("vessel", 6))
    for bag, order in zip(bags, ((0, 1, 2), (0, 2, 1)), strict=True):
        for n in order:
            draw = TopUp(source=bag, into=next(vessels), amount=("24.9", "0.4", "0.3")[n])
            cast.late(draw, minute(n), person=STORES)
    books = [
        rows_of(
            """SELECT s.balance FROM label l JOIN carrier_state c ON c.carrier = l.carrier
                 JOIN unit_state s ON s.unit = c.content WHERE l.code = %s""",
            bag,
        )
        for bag in bags
    ]
    assert books == [[(-300_000,)]] * 2
