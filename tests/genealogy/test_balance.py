"""Balances of lots and carriers, below recording: worked cases, and what must hold of every one."""

from fractions import Fraction

import pytest

from tests.genealogy.graphs import KG, Drawing
from trace.genealogy.balance.documents import as_document, as_lines, percent, verdict
from trace.genealogy.balance.figures import Balance, Figure
from trace.genealogy.balance.subjects import balance_of
from trace.genealogy.find import UnknownCodeError

pytestmark = pytest.mark.django_db
CHARGE = 12_200_000


def hull_of(d: Drawing, name: str, source: str, amount: int = CHARGE) -> None:
    """A hull whose skin was drawn from `source`."""
    d.unit("C" + name, "charge", amount)
    d.edge("C" + name, source, "draw", amount)
    d.unit("L" + name, "load")
    d.edge("L" + name, "C" + name, "charge", amount, layer="skin")
    d.unit("M" + name, "moulding")
    d.edge("M" + name, "L" + name, "cavity")
    d.unit(name, "hull")
    d.edge(name, "M" + name, "bind")


def ways(balance: Balance) -> dict[str, tuple[int, int | None]]:
    return {f.way: (f.bounds.least, f.bounds.most) for f in balance.ends}


def best(figures: tuple[Figure, ...]) -> dict[str, Fraction | None]:
    return {f.way: f.bounds.best for f in figures}


def counted(d: Drawing, unit: str, by: int) -> None:
    d.difference(unit, by)
    d.event("counted", touches=[(unit, "counted")])


@pytest.mark.outside("identity", "received = accounted + unexplained; 969.2 of 1000 kg is 96.92 %")
def test_a_thousand_kilograms() -> None:
    """66 charges of 12.2 kg, 12 kg scrapped, 2 kg of samples, 150 kg counted on hand: 30.8 kg are missing."""
    d = Drawing()
    d.lot("V-1", material="LL-35 red")
    for name in "AB":
        d.content(name, 500 * KG, material="LL-35 red")
        d.edge(name, "V-1", "receive", 500 * KG)
    for n in range(66):
        hull_of(d, f"H{n}", "A" if n < 40 else "B")
    for name, kind, amount in (("S", "sample", 2 * KG), ("X", "scrap", 12 * KG)):
        d.unit(name, kind, amount)
        d.edge(name, "B", kind, amount)
    counted(d, "A", -12 * KG)
    counted(d, "B", -18_800_000)
    d.save()
    b = balance_of("V-1")
    assert b.received == 1000 * KG
    assert ways(b) == {
        "hulls": (805_200_000, 805_200_000), "stock": (150 * KG, 150 * KG), "samples": (2 * KG, 2 * KG),
        "scrap": (12 * KG, 12 * KG),
    }  # fmt: skip
    assert percent(b.reconciled) == "96.92"
    assert {b.unexplained.least, b.unexplained.best, b.unexplained.most} == {30_800_000}
    assert b.book.adds_up
    assert b.book.left == 150 * KG
    # Nothing here names a scale.
    assert b.explained is None
    assert "30.800 kg are missing" in verdict(b)
    assert len(b.ends[0].records) == 66
    assert sum(r.amount or 0 for r in b.ends[0].records) == 805_200_000


def test_more_than_came_is_as_loud() -> None:
    d = Drawing()
    d.lot("V-1")
    d.content("A", 25 * KG)
    d.edge("A", "V-1", "receive", 25 * KG)
    hull_of(d, "H1", "A")
    hull_of(d, "H2", "A")
    hull_of(d, "H3", "A")
    d.save()
    b = balance_of("V-1")
    assert percent(b.reconciled) == "146.40"
    assert b.unexplained.best == -11_600_000
    assert best(b.differences) == {"over the book": 11_600_000}
    assert "11.600 kg more than came" in verdict(b)


def test_what_nobody_counted_is_said_not_to_be() -> None:
    d = Drawing()
    d.lot("V-1")
    d.content("A", 25 * KG)
    d.edge("A", "V-1", "receive", 25 * KG)
    d.save()
    b = balance_of("V-1")
    assert percent(b.reconciled) == "100.00"
    assert b.explained is None
    assert "Nobody has counted" in verdict(b)


def vessel() -> Drawing:
    """A vessel with 400 kg of A under 600 kg of B; 50 charges of 12.2 kg; then 800 kg of C on the 390 kg left."""
    d = Drawing()
    d.carrier("V", "333333AN")
    for lot, amount in (("A", 400), ("B", 600), ("C", 800)):
        d.lot(lot)
        d.content(lot.lower(), amount * KG)
        d.edge(lot.lower(), lot, "receive", amount * KG)
    d.unit("v1", "content", 400 * KG, carrier="V")
    d.edge("v1", "a", "topup", 400 * KG)
    d.at(1)
    d.unit("v2", "content", 1000 * KG, carrier="V")
    d.edge("v2", "v1", "heel", 400 * KG)
    d.edge("v2", "b", "topup", 600 * KG)
    for n in range(50):
        hull_of(d, f"H{n}", "v2")
    d.at(2)
    d.unit("v3", "content", 1190 * KG, carrier="V")
    d.edge("v3", "v2", "heel", 390 * KG)
    d.edge("v3", "c", "topup", 800 * KG)
    for n in range(50, 60):
        hull_of(d, f"H{n}", "v3")
    return d


@pytest.mark.outside("identity", "mass is conserved: what went into a vessel is in hulls or left in it, 600.0 kg")
def test_a_lot_through_a_vessel() -> None:
    vessel().save()
    b = balance_of("B")
    assert b.received == 600 * KG
    # 60 % of 610 kg, then 234/1190 of 122 kg; the rest is still in the vessel.
    hulls = 366 * KG + Fraction(234 * KG, 1190) * 122
    assert best(b.ends) == {"hulls": hulls, "vessels": 600 * KG - hulls}
    assert percent(b.reconciled) == "100.00"
    # At least 610 - 400 kg of the first fifty charges are of it; all of it may be in the sixty.
    assert ways(b) == {"hulls": (210 * KG, 600 * KG), "vessels": (0, 390 * KG)}


def test_a_vessel_over_all_its_fillings() -> None:
    vessel().save()
    b = balance_of("333333AN")
    assert b.subject == "container"  # a drawing knows one kind of carrier
    assert best(b.came) == {"topped up": 1800 * KG}
    assert ways(b) == {"hulls": (732 * KG, 732 * KG), "stock": (1068 * KG, 1068 * KG)}
    assert b.book.adds_up
    assert (b.book.came, b.book.gave, b.book.poured, b.book.left) == (1800 * KG, 732 * KG, 0, 1068 * KG)


def test_what_is_missing_from_a_vessel_is_shared_out() -> None:
    d = vessel()
    counted(d, "v3", -119 * KG)
    d.save()
    b = balance_of("B")
    # 119 of 1190 kg are missing: as much of what was left of B.
    assert b.unexplained.best == Fraction(234 * KG, 10)
    assert b.unexplained.least == 0
    assert b.unexplained.most == 119 * KG
    assert b.accounted is not None
    assert b.accounted + b.unexplained.best == b.received


def test_where_it_is_now() -> None:
    d = Drawing()
    d.lot("V-1")
    d.content("A", 500 * KG)
    d.edge("A", "V-1", "receive", 500 * KG)
    hull_of(d, "H1", "A")
    hull_of(d, "H2", "A")
    d.event("scrapped", touches=[("H2", "scrapped")])
    d.unit("C3", "charge", CHARGE)
    d.edge("C3", "A", "draw", CHARGE)
    d.unit("C4", "charge", CHARGE)
    d.edge("C4", "A", "draw", CHARGE)
    d.unit("L4", "load")
    d.edge("L4", "C4", "charge", CHARGE, layer="skin")
    # A twin: one half became a hull, the other was scrapped; nobody weighed them.
    d.unit("C5", "charge", CHARGE)
    d.edge("C5", "A", "draw", CHARGE)
    d.unit("L5", "load")
    d.edge("L5", "C5", "charge", CHARGE, layer="skin")
    for half in "ab":
        d.unit("M5" + half, "moulding")
        d.edge("M5" + half, "L5", "cavity", position=half)
    d.unit("H5", "hull")
    d.edge("H5", "M5a", "bind")
    d.event("scrapped", touches=[("M5b", "scrapped")])
    # Poured back: what was weighed is powder again.
    d.unit("C6", "charge", CHARGE)
    d.edge("C6", "A", "draw", CHARGE)
    d.content("B", CHARGE)
    d.edge("B", "C6", "topup", CHARGE)
    d.save()
    b = balance_of("V-1")
    assert ways(b) == {
        "hulls": (CHARGE, 2 * CHARGE), "moulds": (CHARGE, CHARGE), "charges": (CHARGE, CHARGE),
        "scrap": (CHARGE, 2 * CHARGE), "stock": (500 * KG - 6 * CHARGE,) * 2, "vessels": (CHARGE, CHARGE),
    }  # fmt: skip
    assert best(b.ends)["hulls"] == Fraction(3 * CHARGE, 2)
    assert b.accounted == b.received
    assert "scrapped" in "\n".join(as_lines(b))
    assert as_document(b)["reconciled_percent"] == "100.00"


def test_as_known_on_a_day() -> None:
    d = vessel()
    d.save()
    from tests.genealogy.graphs import day

    b = balance_of("B", day(1.5))
    assert best(b.ends) == {"hulls": 366 * KG, "vessels": 234 * KG}
    with pytest.raises(UnknownCodeError):
        balance_of("H1X")
