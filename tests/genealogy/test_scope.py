"""Certain, may and cannot on small drawn graphs, worked out by hand; nothing here needs a database."""

from fractions import Fraction

import pytest

from tests.genealogy.graphs import KG, Drawing
from trace.genealogy.amounts import OPEN, Bounds
from trace.genealogy.scope import Swept, one_layer, prepare, sweep


def scope(d: Drawing, suspect: str, **more: object) -> Swept:
    return sweep(prepare(d.graph(suspect), d.flows()), d.id(suspect), **more)  # type: ignore[arg-type]


def verdicts(d: Drawing, suspect: str, names: str) -> str:
    """One letter a name: c(ertain), m(ay) or - (cannot)."""
    shares = scope(d, suspect).shares
    found = []
    for name in names.split():
        share = shares.get(d.id(name))
        found.append({"certain": "c", "may": "m", "cannot": "-"}[share.verdict if share else "cannot"])
    return "".join(found)


def bags(d: Drawing, **lots: int) -> None:
    """Each lot in one bag of that many kilograms, called like the lot in small letters."""
    for lot, kg in lots.items():
        d.lot(lot)
        d.content(lot.lower(), kg * KG)
        d.edge(lot.lower(), lot, "receive", kg * KG)


def charge(d: Drawing, name: str, *sources: tuple[str, int | None], amount: int | None = None) -> None:
    told = [a for _, a in sources if a is not None]
    d.unit(name, "charge", amount if amount is not None else sum(told))
    for source, much in sources:
        d.edge(name, source, "draw", much)


def hull(d: Drawing, n: str, *charges: tuple[str, str]) -> None:
    """Load L, moulding M and hull H of number n from (charge, layer)."""
    d.unit("L" + n, "load")
    for name, layer in charges:
        d.edge("L" + n, name, "charge", layer=layer)
    d.unit("M" + n, "moulding")
    d.edge("M" + n, "L" + n, "cavity")
    d.unit("H" + n, "hull")
    d.edge("H" + n, "M" + n, "bind")


def test_kilograms_stand_by_layer() -> None:
    #   S -> s -draw 12-> C1 -charge skin-> L1 -> M1 -> H1
    #        s -draw 7 -> C2 -charge inner-^           F -> f -draw 9-> C3 -charge foam-> L1
    d = Drawing()
    bags(d, S=25, F=25)
    charge(d, "C1", ("s", 12 * KG))
    charge(d, "C2", ("s", 7 * KG))
    charge(d, "C3", ("f", 9 * KG))
    hull(d, "1", ("C1", "skin"), ("C2", "inner"), ("C3", "foam"))
    share = scope(d, "S").shares[d.id("H1")]
    assert {k: (b.least, b.most, b.pure) for k, b in share.layers.items()} == {
        "skin": (12 * KG, 12 * KG, True),
        "inner": (7 * KG, 7 * KG, True),
    }
    assert share.total == Bounds(19 * KG, Fraction(19 * KG), 19 * KG, certain=True)
    assert prepare(d.graph("S"), d.flows()).mass[d.id("H1")] == 28 * KG
    # A back sub-graph says the same of each ancestor.
    for ancestor in "s", "C1", "C2", "C3", "L1", "M1", "f", "F":
        assert scope(d, ancestor).shares[d.id("H1")].verdict == "certain"


def test_a_bag_changed_in_mid_charge_without_a_reading_gives_bounds_and_no_guess() -> None:
    #   S -> s -draw ?-> C1 <-draw ?- t <- T      C1 weighed 12 kg in all; C2: 5 kg of s read off, the rest
    # of t not
    d = Drawing()
    bags(d, S=25, T=25)
    charge(d, "C1", ("s", None), ("t", None), amount=12 * KG)
    charge(d, "C2", ("s", 5 * KG), ("t", None), amount=12 * KG)
    shares = scope(d, "T").shares
    assert shares[d.id("C1")].total == Bounds(0, None, 12 * KG, certain=True)
    assert shares[d.id("C2")].total == Bounds(7 * KG, Fraction(7 * KG), 7 * KG, certain=True)


def test_twins_share_a_pure_layer_for_certain_and_inserts_only_maybe() -> None:
    #   S -> s -12-> C1 -skin-> L1 -cavity 1-> M1      b (box of N, inserts) -S1-> L1
    #   S -> s - 3-> C2 -inner-^  ^- 4- t <- T         L1 -cavity 2-> M2
    d = Drawing()
    bags(d, S=25, T=25)
    d.lot("N")
    d.content("b", 500, "pc")
    d.edge("b", "N", "receive", 500, "pc")
    charge(d, "C1", ("s", 12 * KG))
    charge(d, "C2", ("s", 3 * KG), ("t", 4 * KG))
    d.unit("L1", "load")
    d.edge("L1", "C1", "charge", layer="skin")
    d.edge("L1", "C2", "charge", layer="inner")
    for place in "S1", "S2":
        d.edge("L1", "b", "insert", 1, "pc", position=place)
    for cavity in "12":
        d.unit("M" + cavity, "moulding")
        d.edge("M" + cavity, "L1", "cavity", position=cavity)
    assert verdicts(d, "S", "L1 M1 M2") == "ccc"
    assert scope(d, "S").shares[d.id("M1")].layers["skin"] == Bounds(
        0, Fraction(6 * KG), 12 * KG, certain=True, pure=True
    )
    assert scope(d, "S").shares[d.id("M1")].layers["inner"] == Bounds(0, Fraction(3 * KG, 2), 3 * KG)
    assert verdicts(d, "T", "L1 M1 M2") == "cmm"
    assert verdicts(d, "N", "L1 M1 M2") == "cmm"
    assert scope(d, "N").shares[d.id("L1")].total == Bounds(2, Fraction(2), 2, certain=True)


def test_a_layer_of_two_charges_is_pure_only_when_both_are() -> None:
    #   s -6-> C1 -skin-> L1 <-skin- C2 <-6- t        the forward walk from S never sees C2
    d = Drawing()
    bags(d, S=25, T=25)
    charge(d, "C1", ("s", 6 * KG))
    charge(d, "C2", ("t", 6 * KG))
    d.unit("L1", "load")
    d.edge("L1", "C1", "charge", layer="skin")
    d.edge("L1", "C2", "charge", layer="skin")
    for cavity in "12":
        d.unit("M" + cavity, "moulding")
        d.edge("M" + cavity, "L1", "cavity", position=cavity)
    assert verdicts(d, "S", "C1 L1 M1 M2") == "ccmm"


def test_a_charge_that_was_not_all_accounted_for_is_not_pure() -> None:
    #   s -10-> C1 (12 kg: nobody knows where 2 kg came from) -skin-> L1 -> M1, M2
    d = Drawing()
    bags(d, S=25)
    charge(d, "C1", ("s", 10 * KG), amount=12 * KG)
    d.unit("L1", "load")
    d.edge("L1", "C1", "charge", layer="skin")
    for cavity in "12":
        d.unit("M" + cavity, "moulding")
        d.edge("M" + cavity, "L1", "cavity", position=cavity)
    assert verdicts(d, "S", "C1 L1 M1 M2") == "ccmm"


def test_eight_inserts_of_a_mixed_box_hold_some_for_certain_though_no_single_one_does() -> None:
    #   A -> a -heel 6-> box -S1..S8-> L1      B -> b -topup 4-> box (10 pieces)
    d = Drawing()
    for lot, bag, count in ("A", "a", 6), ("B", "b", 4):
        d.lot(lot)
        d.content(bag, count, "pc")
        d.edge(bag, lot, "receive", count, "pc")
    d.content("box", 10, "pc")
    d.edge("box", "a", "heel", 6, "pc")
    d.edge("box", "b", "topup", 4, "pc")
    d.unit("L1", "load")
    for n in range(1, 9):
        d.edge("L1", "box", "insert", 1, "pc", position=f"S{n}")
    share = scope(d, "A").shares[d.id("L1")]
    assert share.layers["S1"] == Bounds(0, Fraction(3, 5), 1)
    assert share.total == Bounds(4, Fraction(24, 5), 6, certain=True)
    assert verdicts(d, "B", "L1") == "c"


def test_cut_lids_and_joined_halves() -> None:
    #   s -> C1 -skin-> L1 -> M1 -cut-> A, B -bind-> HA, HB          M2, M3 -join-> H   with only M2 of s
    d = Drawing()
    bags(d, S=25, T=25)
    charge(d, "C1", ("s", 6 * KG))
    charge(d, "C2", ("s", 6 * KG))
    charge(d, "C3", ("t", 6 * KG))
    for n in "123":
        d.unit("L" + n, "load")
        d.edge("L" + n, "C" + n, "charge", layer="skin")
        d.unit("M" + n, "moulding")
        d.edge("M" + n, "L" + n, "cavity")
    for lid in "AB":
        d.unit(lid, "part")
        d.edge(lid, "M1", "cut", position=lid)
        d.unit("H" + lid, "hull")
        d.edge("H" + lid, lid, "bind")
    d.unit("H", "hull")
    d.edge("H", "M2", "join")
    d.edge("H", "M3", "join")
    assert verdicts(d, "S", "A B HA HB H") == "ccccc"
    joined = scope(d, "S").shares[d.id("H")].layers["skin"]
    assert (joined.least, joined.most, joined.pure) == (6 * KG, 6 * KG, False)
    assert verdicts(d, "M3", "H HA") == "c-"


def test_trimmings_take_from_a_hull_and_regrind_passes_powder_but_no_pieces() -> None:
    #   s -12-> C1 -skin-> L1 -> M1 -regrind 2-> R -draw 1-> C2 -inner-> L2      N -> n -S1-> L1
    d = Drawing()
    bags(d, S=25)
    d.lot("N")
    d.content("n", 500, "pc")
    d.edge("n", "N", "receive", 500, "pc")
    charge(d, "C1", ("s", 12 * KG))
    hull(d, "1", ("C1", "skin"))
    d.edge("L1", "n", "insert", 1, "pc", position="S1")
    d.unit("R", "regrind", 2 * KG)
    d.edge("R", "M1", "regrind", 2 * KG)
    charge(d, "C2", ("R", 1 * KG))
    hull(d, "2", ("C2", "inner"))
    share = scope(d, "S").shares
    # Nothing but the suspect was in the moulding by weight, so its regrind is all of it.
    assert share[d.id("R")].total.least == 2 * KG
    assert share[d.id("H1")].layers["skin"] == Bounds(10 * KG, Fraction(10 * KG), 12 * KG, certain=True, pure=True)
    assert verdicts(d, "S", "H1 R H2") == "ccc"
    assert verdicts(d, "N", "H1 R H2") == "c--"
    assert [d.name(e.child) for e in scope(d, "N").not_followed] == ["R"]


def test_a_vessel_that_gave_more_than_it_held_loses_its_lower_bounds() -> None:
    #   S -> s -heel 6-> K (10) <-topup 4- t <- T     K -8-> C1, K -3-> C2: 11 of 10
    d = Drawing()
    bags(d, S=6, T=4)
    d.content("K", 10 * KG)
    d.edge("K", "s", "heel", 6 * KG)
    d.edge("K", "t", "topup", 4 * KG)
    charge(d, "C1", ("K", 8 * KG))
    assert verdicts(d, "S", "C1") == "c"
    charge(d, "C2", ("K", 3 * KG))
    assert verdicts(d, "S", "C1 C2") == "mm"
    assert scope(d, "S").shares[d.id("C1")].total.most == 7 * KG
    d = Drawing()
    bags(d, S=6, T=4)
    d.content("K", 10 * KG)
    d.edge("K", "s", "heel", 6 * KG)
    d.edge("K", "t", "topup", 4 * KG)
    d.difference("K", KG)
    charge(d, "C1", ("K", 8 * KG))
    assert verdicts(d, "S", "C1") == "m"


def test_an_amount_put_right_leaves_what_it_made_as_it_was() -> None:
    #   s -10 (read 12 at first)-> C1 -skin-> L1 -> M1, M2          S -> s -8-> K (10) <-6- t <- T; K -5-> C2
    d = Drawing()
    bags(d, S=25, T=25)
    d.unit("C1", "charge", 12 * KG)
    d.edge("C1", "s", "draw", 10 * KG)
    d.difference("C1", -2 * KG, "put right")
    d.unit("L1", "load")
    d.edge("L1", "C1", "charge", layer="skin")
    for cavity in "12":
        d.unit("M" + cavity, "moulding")
        d.edge("M" + cavity, "L1", "cavity", position=cavity)
    assert verdicts(d, "S", "C1 L1 M1 M2") == "cccc"
    # More went into K than it was booked with: up to 6 kg of its draw of 5 can be of T.
    d.content("K", 10 * KG)
    d.edge("K", "s", "topup", 8 * KG)
    d.edge("K", "t", "topup", 6 * KG)
    charge(d, "C2", ("K", 5 * KG))
    assert verdicts(d, "S", "K C2") == verdicts(d, "T", "K C2") == "cm"


def test_a_loss_does_not_account_for_what_nobody_knows_the_source_of() -> None:
    #   s -8-> K (10 kg: nobody knows where 2 kg came from, and 2 kg were not found later) -5-> C1
    d = Drawing()
    bags(d, S=25)
    d.content("K", 10 * KG)
    d.edge("K", "s", "topup", 8 * KG)
    d.difference("K", -2 * KG, "not found when emptied")
    charge(d, "C1", ("K", 5 * KG))
    share = scope(d, "S").shares[d.id("C1")].total
    assert (share.least, share.most, share.pure) == (3 * KG, 5 * KG, False)


def test_a_heel_that_nobody_weighed_stays_open_until_the_vessel_is_proved_empty() -> None:
    #   S -> s -topup 10-> K1 -heel ?-> K2 <-topup 10- t <- T     K2 -12-> C
    d = Drawing()
    bags(d, S=10, T=10)
    d.content("K1", 10 * KG)
    d.edge("K1", "s", "topup", 10 * KG)
    d.content("K2", 10 * KG)
    d.edge("K2", "K1", "heel")
    d.edge("K2", "t", "topup", 10 * KG)
    charge(d, "C", ("K2", 8 * KG))
    assert verdicts(d, "S", "K1 K2 C") == "cmm"
    assert verdicts(d, "T", "K2 C") == "cm"


def test_a_charge_partly_tipped_back_and_a_part_fitted_from_a_box() -> None:
    #   s -12-> C1 -decant 5-> back; C1 -charge skin-> L1         box of seats -fit 1-> H1
    d = Drawing()
    bags(d, S=25)
    charge(d, "C1", ("s", 12 * KG))
    d.content("back", 5 * KG)
    d.edge("back", "C1", "decant", 5 * KG)
    hull(d, "1", ("C1", "skin"))
    d.lot("SEATS")
    d.content("seats", 40, "pc")
    d.edge("seats", "SEATS", "receive", 40, "pc")
    d.edge("H1", "seats", "fit", 1, "pc", position="seat")
    assert scope(d, "S").shares[d.id("H1")].total == Bounds(7 * KG, Fraction(7 * KG), 12 * KG, certain=True, pure=True)
    assert scope(d, "SEATS").shares[d.id("H1")].total == Bounds(1, Fraction(1), 1, certain=True)


def test_what_was_weighed_out_of_a_bag_and_what_was_tipped_of_it_into_one_load_add_up() -> None:
    #   s (12 kg) -draw 5-> L1, and the rest of it -charge skin-> L1
    d = Drawing()
    bags(d, S=12)
    d.unit("L1", "load")
    d.edge("L1", "s", "draw", 5 * KG)
    d.edge("L1", "s", "charge", layer="skin")
    share = scope(d, "S").shares[d.id("L1")]
    assert {key: bounds.best for key, bounds in share.layers.items()} == {"": 5 * KG, "skin": 7 * KG}
    assert (share.total.least, share.total.most) == (12 * KG, 12 * KG)


def test_a_charge_tipped_without_a_layer_is_in_the_load_as_what_has_none() -> None:
    d = Drawing()
    bags(d, S=25)
    charge(d, "C1", ("s", 12 * KG))
    d.unit("L1", "load")
    d.edge("L1", "C1", "charge")
    share = scope(d, "S").shares[d.id("L1")]
    assert share.layers == {"": share.total}


def test_a_charge_out_of_two_bags_of_a_lot_is_all_of_it_though_nobody_said_how_much_came_out_of_which() -> None:
    d = Drawing()
    bags(d, S=25)
    d.content("s2", 25 * KG)
    d.edge("s2", "S", "receive", 25 * KG)
    charge(d, "C1", ("s", None), ("s2", None), amount=12 * KG)
    share = scope(d, "S").shares[d.id("C1")]
    assert (share.total.least, share.total.most, share.total.certain) == (12 * KG, 12 * KG, True)
    assert share.layers == {"": share.total}


def test_packs_and_consignments_hold_what_their_hulls_hold() -> None:
    d = Drawing()
    bags(d, S=25, T=25)
    charge(d, "C1", ("s", 12 * KG))
    charge(d, "C2", ("t", 12 * KG))
    hull(d, "1", ("C1", "skin"))
    hull(d, "2", ("C2", "skin"))
    d.unit("P", "pack")
    d.unit("Q", "consignment")
    for child, parent, role in ("P", "H1", "pack"), ("P", "H2", "pack"), ("Q", "P", "ship"):
        d.edge(child, parent, role)
    assert scope(d, "S").shares[d.id("Q")].layers["skin"].least == 12 * KG
    assert verdicts(d, "H1", "P Q H2") == "cc-"


def test_doubts_make_may_and_go_on_to_what_was_made() -> None:
    d = Drawing()
    bags(d, S=25, T=25)
    charge(d, "C1", ("t", 12 * KG))
    hull(d, "1", ("C1", "skin"))
    doubts = {d.id("L1"): one_layer(OPEN, "foam")}
    shares = scope(d, "S", doubts=doubts).shares
    assert shares[d.id("H1")].verdict == "may"
    # Never more than there was of the suspect.
    assert shares[d.id("H1")].layers["foam"] == Bounds(0, None, 25 * KG)
    assert scope(d, "S", doubts=doubts, only={d.id("H1")}).shares.keys() == {d.id("H1")}


def test_a_circle_in_the_records_is_never_answered_with_cannot() -> None:
    d = Drawing()
    bags(d, S=25)
    for name in "AB":
        d.content(name, 10 * KG)
    d.edge("A", "s", "decant", 5 * KG)
    d.edge("B", "A", "decant", 5 * KG)
    d.edge("A", "B", "decant", 5 * KG)
    assert verdicts(d, "S", "s A") == "cm"


# The four answers of the trade's worked case: 400 kg heel of A, 600 kg of B on top by mistake, 50 charges
# of 12.2 kg, 800 kg of C on the 390 kg left, then more charges. Plug and funnel figures are worked out
# below from their definitions; the mixed ones are 12.2 x 0.6 = 7.32 and 12.2 x 234 / 1190 = 2.399 kg.
CHARGE = 12_200_000


def silo() -> Drawing:
    #   a (400) -heel-> K1 (1000) -12.2 x 50-> C1..C50     K1 -heel 390-> K2 (1190) -12.2 x 60-> C51..C110
    #   b (600) -topup-^                                    c (800) -topup-^
    d = Drawing()
    bags(d, A=400, B=600, C=800)
    d.content("K1", 1000 * KG)
    d.edge("K1", "a", "heel", 400 * KG)
    d.edge("K1", "b", "topup", 600 * KG)
    for n in range(1, 51):
        charge(d, f"C{n}", ("K1", CHARGE))
    d.content("K2", 1190 * KG)
    d.edge("K2", "K1", "heel", 390 * KG)
    d.edge("K2", "c", "topup", 800 * KG)
    for n in range(51, 111):
        charge(d, f"C{n}", ("K2", CHARGE))
    return d


def plug(n: int) -> int:
    """First in, first out: B lies in (400, 1000] kg of what flows out."""
    return max(0, min(n * CHARGE, 1000 * KG) - max((n - 1) * CHARGE, 400 * KG))


def funnel(n: int) -> int:
    """Last in, first out: B is in the first 600 kg, then A; the C put on top flows out before either."""
    return max(0, min(n * CHARGE, 600 * KG) - (n - 1) * CHARGE) if n <= 50 else 0


def test_the_silo_case_under_every_flow() -> None:
    d = silo()
    shares = scope(d, "B").shares
    found = {n: shares[d.id(f"C{n}")].total for n in range(1, 111)}
    assert found[1].best == found[50].best == 7_320_000
    assert float(found[51].best or 0) == pytest.approx(12.2e6 * 234 / 1190)
    assert round(float(found[51].best or 0) / 1e6, 3) == 2.399
    assert (plug(33), plug(82), funnel(50)) == (2_600_000, 11_800_000, 2_200_000)
    assert [n for n in range(1, 111) if plug(n)] == list(range(33, 83))
    assert [n for n in range(1, 111) if funnel(n)] == list(range(1, 51))
    for n, bounds in found.items():
        assert bounds.verdict == "may"
        assert bounds.most is not None
        assert bounds.least <= plug(n) <= bounds.most
        assert bounds.least <= funnel(n) <= bounds.most
    # Models sum to what went in; bounds need not.
    assert sum(map(plug, found)) == sum(map(funnel, found)) == 600 * KG
    in_charges = sum((b.best or Fraction(0) for b in found.values()), Fraction(0))
    share = shares[d.id("K2")].total.best
    assert share is not None
    left = 1190 * KG - 60 * CHARGE
    assert in_charges + share * left / (1190 * KG) == 600 * KG


def test_one_draw_larger_than_all_else_in_the_vessel_is_certain() -> None:
    # 500 of the 1000 kg in one draw: at least 500 - 400 = 100 kg are of B, whatever the flow.
    d = Drawing()
    bags(d, A=400, B=600)
    d.content("K1", 1000 * KG)
    d.edge("K1", "a", "heel", 400 * KG)
    d.edge("K1", "b", "topup", 600 * KG)
    d.content("bin", 500 * KG)
    d.edge("bin", "K1", "decant", 500 * KG)
    assert scope(d, "B").shares[d.id("bin")].total == Bounds(100 * KG, Fraction(300 * KG), 500 * KG, certain=True)


def test_a_piece_out_of_one_of_two_boxes_is_at_most_that_piece() -> None:
    #   N -> b -1-> L1 <-?- c <- P     one insert was placed, nobody knows out of which box
    d = Drawing()
    for lot, box in ("N", "b"), ("P", "c"):
        d.lot(lot)
        d.content(box, 500, "pc")
        d.edge(box, lot, "receive", 500, "pc")
    d.unit("L1", "load")
    d.edge("L1", "b", "insert", 1, "pc", position="S1")
    d.edge("L1", "c", "insert", None, position="S1")
    share = scope(d, "N").shares[d.id("L1")]
    assert (share.total.least, share.total.most, share.verdict) == (0, 1, "may")
    assert scope(d, "P").shares[d.id("L1")].verdict == "may"


def test_two_ways_from_one_bag_into_a_load_of_no_layer_add_up() -> None:
    #   S -> s (25 kg) -draw 3-> L1     and what was left of the bag was tipped in: -charge-> L1
    d = Drawing()
    bags(d, S=25)
    d.unit("L1", "load")
    d.edge("L1", "s", "draw", 3 * KG)
    d.edge("L1", "s", "charge")
    share = scope(d, "S").shares[d.id("L1")]
    assert (share.layers[""].least, share.layers[""].most) == (25 * KG, 25 * KG)
    assert share.total.least == 25 * KG


def test_an_amount_in_another_measure_says_nothing_of_the_mass() -> None:
    d = Drawing()
    bags(d, S=25)
    d.unit("X", "sample")
    d.edge("X", "s", "sample", 3, "pc")
    assert scope(d, "S").shares[d.id("X")].total.least == 0


def test_only_what_all_ways_into_it_are_known_of_has_a_mass() -> None:
    d = Drawing()
    bags(d, S=25)
    charge(d, "C1", ("s", 12 * KG))
    hull(d, "1", ("C1", "skin"))
    d.unit("PLATE", "plate")
    d.edge("H1", "PLATE", "plate")
    mass = prepare(d.graph("S"), d.flows()).mass
    assert mass[d.id("M1")] == mass[d.id("H1")] == 12 * KG
    assert d.id("PLATE") not in mass
    # A half joined to another that the walk did not reach: the mass of the whole is not that of the one.
    d.unit("M2", "moulding")
    d.edge("H1", "M2", "join")
    seen = d.graph("S")
    part_of_it = type(seen)(seen.roots, seen.nodes, tuple(e for e in seen.edges if e.parent != d.id("M2")))
    assert d.id("H1") not in prepare(part_of_it, d.flows()).mass
