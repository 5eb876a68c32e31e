"""Answers from the tables: codes, places, gaps, the document others rely on, the same answer for ever."""

import json
from datetime import datetime

import pytest
from django.core.management import CommandError, call_command

from tests.genealogy.graphs import KG, Drawing, day, stamp
from tests.genealogy.test_scope import charge, hull
from trace.codes import issue_label_code, printed
from trace.genealogy.answer import Answer, TooWideError, genealogy
from trace.genealogy.documents import as_json, as_text, as_tree, in_unit
from trace.genealogy.find import AmbiguousCodeError, UnknownCodeError, find_unit
from trace.genealogy.walk import Direction
from trace.management.commands.genealogy import Command

pytestmark = pytest.mark.django_db
SKIN, BOX, TUB = (issue_label_code(n) for n in (1, 2, 3))
RECIPE = {
    "layers": [{"name": "skin", "material": "LL-35 {colour}"}, {"name": "foam", "material": "FM-22"}],
    "inserts": {"S1": "M8-N"},
    "graphics": {"PORT": {"artwork": "TAMSIN-SIDE", "revision": "C"}},
}


def verdicts(answer: Answer, d: Drawing) -> dict[str, str]:
    return {d.name(line.node.id): line.verdict for line in answer.lines}


def history() -> Drawing:
    """S in a labelled octabin makes the skins of two hulls; H1 is packed and shipped, H2 stands on a rack.

    Day 3: the skin of H2 is found to have come from T's bag; the edge is withdrawn and the right one added.
    """
    d = Drawing()
    d.lot("S", material="LL-35 red", supplier="Verrin")
    d.lot("T", material="LL-35 red", supplier="Verrin")
    d.carrier("octabin", SKIN)
    d.unit("s", "content", 500 * KG, carrier="octabin", about={"material": "LL-35 red"})
    d.edge("s", "S", "receive", 500 * KG)
    d.content("t", 25 * KG)
    d.edge("t", "T", "receive", 25 * KG)
    d.at(1)
    for n in "12":
        charge(d, "C" + n, ("s", 12_200_000))
        hull(d, n, ("C" + n, "skin"))
        d.unit("PLATE" + n, "plate")
        d.serial(f"GHM-T430-00000{n}", "PLATE" + n)
        d.edge("H" + n, "PLATE" + n, "plate")
        d.place("H" + n, "RACK-A")
    d.at(2).unit("P1", "pack")
    d.edge("P1", "H1", "pack")
    d.place("P1", "BAY-3")
    d.at(3).void("C2", "s")
    d.edge("C2", "t", "draw", 12_200_000)
    d.unit("Q", "consignment")
    d.edge("Q", "P1", "ship")
    d.place("Q", "gone: Wharfe & Weir")
    d.place("H2", "RACK-B")
    return d


def test_the_document_of_a_lot() -> None:
    d = history()
    d.save()
    document = as_json(genealogy("S", "forward", day(2)))
    assert document.keys() == {"code", "direction", "as_known_on", "tree_size", "nodes", "edges", "gaps"}
    assert (document["code"], document["direction"]) == ("S", "forward")
    assert document["as_known_on"] == stamp(day(2))
    assert document["tree_size"] == sum(e.recorded <= day(2) for e in d.events)
    by_code = {n["code"]: n for n in document["nodes"]}
    assert by_code["GHM-T430-000001"] == {
        "id": d.units["H1"].uid, "code": "GHM-T430-000001", "kind": "hull", "verdict": "certain",
        "min": "12.200", "best": "12.200", "max": "12.200", "uom": "KGM", "place": "BAY-3",
    }  # fmt: skip
    assert by_code["GHM-T430-000002"]["place"] == "RACK-A"
    assert by_code[SKIN]["max"] == "500.000"
    assert [n["id"] for n in document["nodes"]] == sorted(n["id"] for n in document["nodes"])
    edge = next(e for e in document["edges"] if e["parent"] == d.units["C1"].uid)
    event = d.events[d.edges[[x.edge.parent for x in d.edges].index(d.id("C1"))].edge.event - 1]
    assert edge == {
        "child": d.units["L1"].uid, "parent": d.units["C1"].uid, "role": "charge", "layer": "skin",
        "position": None, "amount": None, "uom": None, "event": str(event.uid),
    }  # fmt: skip
    json.dumps(document)


def test_an_old_answer_is_given_again_to_the_letter() -> None:
    """The drawing is saved once as it stood on day 2 and once whole: the answers for day 2 are one text."""
    from django.db import transaction

    whole = history()
    early = history()
    early.events = [e for e in whole.events if e.recorded <= day(2)]
    early.units = {n: u for n, u in whole.units.items() if whole.made[n] <= day(2)}
    early.serials, early.labels = whole.serials, whole.labels
    early.carriers = whole.carriers
    early.edges = [x for x in whole.edges if x.recorded <= day(2)]
    for drawn in early.edges:
        if drawn.void and drawn.void[1] > day(2):
            drawn.void = None
    voids = [(x, x.void) for x in history().edges]
    with transaction.atomic():
        early.save()
        then = [as_text(genealogy(c, way, day(2))) for c, way in ASKED]
        newest = [json.loads(as_text(genealogy(c, way))) for c, way in ASKED]
        transaction.set_rollback(True)
    for drawn, (like, void) in zip(whole.edges, voids, strict=True):
        assert like.edge.id == drawn.edge.id
        drawn.void = void
    whole.save()
    assert [as_text(genealogy(c, way, day(2))) for c, way in ASKED] == then
    assert [as_text(genealogy(c, way)) for c, way in ASKED] != then
    # Without a day the answer is for the time of the newest record.
    assert {x["as_known_on"] for x in newest} == {stamp(day(2))}


ASKED: list[tuple[str, Direction]] = [
    ("S", "forward"),
    ("GHM-T430-000002", "back"),
    (SKIN, "forward"),
    ("GHM-T430-000001", "back"),
]


def test_a_correction_changes_the_answer_from_its_recording_on() -> None:
    d = history()
    d.save()
    before, after = genealogy("GHM-T430-000002", "back", day(2.9)), genealogy("GHM-T430-000002", "back")
    assert {"S", "s"} <= verdicts(before, d).keys()
    assert {"T", "t"} <= verdicts(after, d).keys()
    assert not {"S", "s"} & verdicts(after, d).keys()
    assert "H2" not in verdicts(genealogy("S", "forward"), d)
    assert verdicts(genealogy("T", "forward"), d)["H2"] == "certain"
    line = genealogy("S", "forward").line(d.id("H1"))
    assert line is not None
    assert line.place == "gone: Wharfe & Weir"
    # Asked back, an ancestor's share is what of it is in the hull.
    line = after.line(d.id("t"))
    assert line is not None
    assert (line.share.total.least, line.uom) == (12_200_000, "mg")


def test_what_a_code_stands_for() -> None:
    d = history()
    d.carrier("silo", BOX)
    d.at(4).unit("K1", "content", 5 * KG, carrier="silo")
    d.at(6).unit("K2", "content", 9 * KG, carrier="silo")
    # Recorded on day 8: something else entered on day 5, so the content of day 6 was made anew.
    d.at(5, recorded=8)
    late = d.unit("K1b", "content", 6 * KG, carrier="silo")
    anew = d.unit("K2b", "content", 10 * KG, carrier="silo")
    uid = d.carriers["silo"][1]
    logs = [
        {
            "carrier": uid, "replace": True, "from": stamp(day(5)),
            "entries": [
                {"content": d.units["K1b"].uid, "since": stamp(day(5))},
                {"content": d.units["K2b"].uid, "since": stamp(day(6))},
            ],
        }
    ]  # fmt: skip
    for name in "K1b", "K2b":
        d.events[d.units[name].event - 1].rows["logs"] = logs
    # A filling of day 6 that never was: told on day 8, with what had been in the tub since day 5.
    d.at(4).carrier("tub", TUB)
    d.at(6).unit("wrong", "charge", KG, carrier="tub")
    d.at(5, recorded=8).unit("right", "charge", KG, carrier="tub")
    entry = {"content": d.units["right"].uid, "since": stamp(day(5))}
    d.events[-1].rows["logs"] = [
        {"carrier": d.carriers["tub"][1], "replace": True, "from": stamp(day(5)), "entries": [entry]}
    ]
    d.at(9).unit("M9", "moulding", lot_no="26-0042/S1/T430-01/1")
    d.lot("S2")
    d.units["S2"] = d.units["S2"]._replace(lot_no="T", about={"material": "AD-6"})
    d.save()
    assert find_unit(SKIN) == find_unit(f" {SKIN[:4]}-{SKIN[4:]} ".lower()) == d.id("s")
    assert find_unit("GHM-T430-000001") == find_unit("ghm-t430-000001") == d.id("H1")
    assert find_unit("26-0042/S1/T430-01/1") == d.id("M9")
    assert find_unit("S") == find_unit(d.units["S"].uid) == d.id("S")
    assert [find_unit(BOX, day(n)) for n in (4, 6, 7.9, 8)] == [d.id("K1"), d.id("K2"), d.id("K2"), anew]
    assert find_unit(TUB, day(6.5)) == d.id("wrong")
    assert find_unit(TUB) == d.id("right")
    assert late != anew
    with pytest.raises(AmbiguousCodeError, match=r"stands for 2 units: lot LL-35 red Verrin .*; lot AD-6"):
        find_unit("T")
    for code, when in ("nowhere", None), (SKIN, day(-1)), ("GHM-T430-000001", day(0.5)), ("T430-01", None):
        with pytest.raises(UnknownCodeError, match="Nothing is known under"):
            find_unit(code, when)
    wrong = SKIN[:-1] + ("2" if SKIN[-1] != "2" else "3")
    with pytest.raises(UnknownCodeError):
        find_unit(wrong)


def recorded_materials(d: Drawing) -> None:
    d.thing("product", "T430", RECIPE)
    for key, kind in ("LL-35 red", "powder"), ("FM-22", "foam"), ("MD-80", "powder"), ("M8-N", "insert"):
        d.thing("material", key, {"kind": kind})
    d.thing("material", "SIDE C", {"kind": "graphic", "artwork": "TAMSIN-SIDE", "revision": "C"})


def hull_with_gap(d: Drawing, n: str, what: str, which: str) -> None:
    about = {"product": "T430", "recipe": 1, "colour": "red"}
    for name, kind in ("L" + n, "load"), ("M" + n, "moulding"), ("H" + n, "hull"):
        d.unit(name, kind, about=about)
    d.edge("M" + n, "L" + n, "cavity")
    d.edge("H" + n, "M" + n, "bind")
    d.gap("L" + n, what, which)


def test_a_missing_record_is_never_a_cannot() -> None:
    #   No edge leads from any lot to these hulls; each lacks a record of one thing.
    d = Drawing()
    recorded_materials(d)
    for name, material in ("RED", "LL-35 red"), ("FOAM", "FM-22"), ("NUT", "M8-N"), ("SIDE", "SIDE C"):
        d.lot(name, material=material)
    d.at(1)
    for n, what, which in (
        ("1", "layer", "skin"), ("2", "layer", "foam"), ("3", "insert", "S1"), ("4", "graphic", "PORT"),
        ("5", "cycle", ""), ("6", "oven log", "26-0042"), ("7", "layer", "skin"), ("8", "source", "foam"),
    ):  # fmt: skip
        hull_with_gap(d, n, what, which)
    d.at(2).lot("LATE", material="LL-35 red")
    d.at(3).close_gap("L7", "layer", "skin")
    d.save()

    def hulls(lot: str, when: datetime | None = None) -> str:
        found = verdicts(genealogy(lot, "forward", when), d)
        assert {found[n] for n in found if n[0] == "H"} <= {"may"}
        return "".join(sorted(n[1] for n in found if n[0] == "H"))

    assert hulls("RED", day(2)) == "157"
    assert hulls("RED") == "15"
    assert hulls("FOAM") == "258"
    assert hulls("NUT") == "35"
    assert hulls("SIDE") == "45"
    # What came after the gap was found cannot have filled it.
    assert hulls("LATE") == ""
    answer = genealogy("RED", "forward")
    assert [g.text for g in answer.gaps if g.unit == d.units["L1"].uid] == [
        f"{d.units['L1'].uid} has no record of its layer “skin”. It may hold what is asked about."
    ]
    line = answer.line(d.id("H1"))
    assert line is not None
    assert line.share.total.least == 0
    back = genealogy(d.units["H1"].uid, "back")
    assert verdicts(back, d) == {"RED": "may", "H1": "certain", "M1": "certain", "L1": "certain"}
    assert verdicts(genealogy(d.units["H5"].uid, "back"), d).keys() == {
        "RED", "FOAM", "NUT", "SIDE", "H5", "M5", "L5",
    }  # fmt: skip


def test_what_was_made_before_records_may_hold_what_was_there_before_it() -> None:
    d = Drawing()
    recorded_materials(d)
    d.lot("OLD", material="LL-35 red", origin="before records")
    d.lot("OTHER", material="MD-80", origin="before records")
    d.unit("H1", "hull", about={"product": "T430", "colour": "red", "origin": "before records"})
    d.unit("PLATE1", "plate", about={"product": "T430", "origin": "before records"})
    d.edge("H1", "PLATE1", "plate")
    d.gap("H1", "before records", "")
    d.unit("H2", "hull", about={"origin": "before records", "made": "2025-11-30"})
    d.at(5).lot("NEW", material="LL-35 red")
    d.save()
    assert verdicts(genealogy("OLD", "forward"), d) == {"OLD": "certain", "H1": "may", "H2": "may"}
    # Of H2 not even the product is known.
    assert verdicts(genealogy("OTHER", "forward"), d) == {"OTHER": "certain", "H2": "may"}
    assert verdicts(genealogy("NEW", "forward"), d) == {"NEW": "certain"}
    answer = genealogy(d.units["H1"].uid, "back")
    assert verdicts(answer, d) == {"H1": "certain", "PLATE1": "certain", "OLD": "may"}
    assert any("made before records began" in g.text for g in answer.gaps)


def test_what_an_answer_admits() -> None:
    #   S -> s (10) -8-> C1, -4-> C2: 2 kg over the book; s -?-> C3; C1 -decant (circle)-> s
    #   C1 -skin-> L1 -> M1 -> H1 -regrind-> R
    d = Drawing()
    d.lot("S", material="LL-35 red")
    d.content("s", 10 * KG)
    d.edge("s", "S", "receive", 10 * KG)
    charge(d, "C1", ("s", 8 * KG))
    charge(d, "C2", ("s", 4 * KG))
    charge(d, "C3", ("s", None), amount=KG)
    d.edge("s", "C1", "decant", KG, aside=True)
    hull(d, "1", ("C1", "skin"))
    d.unit("R", "regrind", KG)
    d.edge("R", "H1", "regrind", KG)
    d.save()
    said = [g.what for g in genealogy("S", "forward", through_regrind=False).gaps]
    assert said == ["amount", "circle", "over the book", "regrind"]
    back = genealogy(d.units["R"].uid, "back", through_regrind=False)
    assert [g.text for g in back.gaps] == [f"What regrind {back.root.code} was made of was not followed here."]
    through = genealogy("S", "forward")
    assert sorted(g.what for g in through.gaps) == ["amount", "circle", "over the book"]
    assert "R" in verdicts(through, d)
    text = "\n".join(as_tree(through))
    assert text.index("Missing from the record") < text.index("lot S")
    assert "held 2.000 kg more than its book says" in text
    assert "charge skin: load" in text
    assert "skin: 8.000" in text


def test_of_very_many_ancestors_the_nearest_are_judged_and_the_others_may(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    d = history()
    d.save()
    everything = genealogy("GHM-T430-000001", "back")
    monkeypatch.setattr("trace.genealogy.answer.MOST_PASSED", 3)
    answer = genealogy("GHM-T430-000001", "back")
    # M1 and PLATE1 passed one edge each, L1 two; then no more were judged.
    assert verdicts(answer, d) == {
        "H1": "certain", "M1": "certain", "PLATE1": "certain", "L1": "certain",
        "C1": "may", "s": "may", "S": "may",
    }  # fmt: skip
    assert verdicts(everything, d) == dict.fromkeys(verdicts(answer, d), "certain")
    assert [g.text for g in answer.gaps] == [
        "7 units went into GHM-T430-000001; shares were worked out for the nearest 4 of them, the others may be in it."
    ]


def test_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    d = history()
    d.save()
    call_command("genealogy", "forward", "S", "--json", "--as-known-on", "2026-01-07")
    assert json.loads(capsys.readouterr().out) == as_json(
        genealogy("S", "forward", datetime.fromisoformat("2026-01-07T23:59:59.999999+00:00"))
    )
    call_command("genealogy", "back", "GHM-T430-000001")
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("GHM-T430-000001, back, as known on 2026-01-08")
    assert "Nothing is known to be missing from the record." in lines
    wanted = f"        draw 12.200 kg: content {printed(SKIN)} · certain · 12.200 kg · skin: 12.200 kg"
    assert wanted in lines, "\n".join(lines)
    for arguments, message in (
        (["back", "nowhere"], "Nothing is known under “nowhere”"),
        (["back", "S", "--as-known-on", "June"], "no date or time"),
        (["back", "S", "--as-known-on", "1999-01-01"], "Nothing was recorded by that time"),
    ):
        with pytest.raises(CommandError, match=message):
            call_command("genealogy", *arguments)


def test_the_tree_names_things_as_people_do_and_the_json_stays(capsys: pytest.CaptureFixture[str]) -> None:
    """A label with its hyphen, a load by its mould, one hull, one piece; the document for other systems as it was."""
    d = history()
    d.unit("B", "content", 1, "pc")
    d.unit("LB", "load", about={"product": "T430", "mould": "T430-02"})
    d.edge("LB", "B", "insert", 1, "pc", position="S1")
    d.unit("C9", "content", KG)
    d.edge("LB", "C9", "charge", 2 * KG, layer="skin")
    d.save()
    call_command("genealogy", "forward", d.units["C9"].uid)
    told = capsys.readouterr().out
    assert "load T430-02" in told and d.units["LB"].uid not in told
    call_command("genealogy", "forward", "S")
    told = capsys.readouterr().out
    assert "\n1 hull certain\n0 hulls may\n" in told
    assert printed(SKIN) in told and SKIN not in told
    call_command("genealogy", "back", d.units["LB"].uid)
    assert "insert S1 1 piece: content" in capsys.readouterr().out
    document = as_json(genealogy(SKIN, "forward"))
    assert SKIN in {n["code"] for n in document["nodes"]}


def test_a_unit_met_again_stands_there_without_what_is_below_it() -> None:
    """Layers are named where there are some, and where it is known how much is in them."""
    d = Drawing()
    d.lot("S", material="LL-35 red")
    d.lot("T", material="LL-35 red")
    d.content("s", 25 * KG)
    d.edge("s", "S", "receive", 25 * KG)
    charge(d, "C1", ("s", 12 * KG))
    charge(d, "C2", ("s", 3 * KG))
    hull(d, "1", ("C1", "skin"), ("C2", "inner"))
    # Nobody recorded how much of T went into the first.
    d.edge("C1", "T", "draw")
    d.content("s2", 5 * KG)
    d.edge("s2", "s", "decant", 2 * KG)
    d.edge("s2", "S", "receive", 3 * KG)
    d.save()

    def tree(code: str) -> list[str]:
        text = "\n".join(as_tree(genealogy(code, "forward")))
        for name, unit in d.units.items():
            text = text.replace(unit.uid, name)
        return text.split("\n")

    skin, inner = "skin: 0.000 – ? – 12.000 kg", "inner: 3.000 kg"
    layers = f"certain · 3.000 – ? – 15.000 kg · {skin}; {inner}"
    assert tree("S")[6:] == [
        "lot S · certain · 0.000 – ? – ? kg",
        "  receive 25.000 kg: content s · certain · 25.000 kg",
        "    draw 12.000 kg: charge C1 · may · 0.000 – ? – 12.000 kg",
        f"      charge skin: load L1 · {layers}",
        f"        cavity: moulding M1 · {layers}",
        f"          bind: hull H1 · {layers}",
        "    draw 3.000 kg: charge C2 · certain · 3.000 kg",
        f"      charge inner: load L1 · {layers} (above)",
        "    decant 2.000 kg: content s2 · certain · 5.000 kg",
        "  receive 3.000 kg: content s2 · certain · 5.000 kg",
    ]
    assert tree("T")[7:] == [
        "lot T · certain", "  draw: charge C1 · may", "    charge skin: load L1 · may",
        "      cavity: moulding M1 · may", "        bind: hull H1 · may",
    ]  # fmt: skip


@pytest.mark.parametrize("most", [1, 3])
def test_of_too_much_to_tell_one_sentence_says_so(most: int) -> None:
    history().save()
    with pytest.raises(TooWideError, match=f"^S went into more than {most} things.$"):
        genealogy("S", "forward", most=most)


def test_an_unreadable_day_is_answered_by_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    """From the shell, where the parser's own errors would come as a traceback."""
    with pytest.raises(SystemExit) as ended:
        Command().run_from_argv(["manage.py", "genealogy", "back", "S", "--as-known-on", "yesterday"])
    assert ended.value.code == 1
    assert capsys.readouterr().err.strip() == "CommandError: “yesterday” is no date or time."


def test_amounts_in_trade_units() -> None:
    from fractions import Fraction

    assert in_unit(12_200_000, "mg") == "12.200"
    assert in_unit(Fraction(1, 3), "mg") == "0.000"
    assert in_unit(9, "mg") == "0.000009"
    assert (in_unit(8, "pc"), in_unit(Fraction(1, 3), "pc"), in_unit(100, "pc")) == ("8", "0.333", "100")
    assert in_unit(1500, "mm") == "1.500"
    assert in_unit(None, "mg") is in_unit(5, None) is None


def test_pieces_are_not_followed_into_regrind_and_the_answer_says_so() -> None:
    d = Drawing()
    d.lot("N", material="M8-N")
    d.content("b", 500, "pc")
    d.edge("b", "N", "receive", 500, "pc")
    hull(d, "1")
    d.edge("L1", "b", "insert", 1, "pc", position="S1")
    d.unit("R", "regrind", KG)
    d.edge("R", "H1", "regrind", KG)
    d.save()
    answer = genealogy("N", "forward")
    assert [gap.text for gap in answer.gaps if gap.what == "regrind"] == [
        f"Inserts and graphics of {d.units['H1'].uid} were not followed into its regrind: they are cut out first"
        " (common practice; no record says so)."
    ]
    assert "R" not in verdicts(answer, d)


def test_a_filling_told_anew_takes_the_place_of_what_was_in_its_carrier_from_then_on() -> None:
    d = Drawing()
    d.carrier("tub", TUB)
    for n, name in enumerate(("first", "second", "third")):
        d.at(n).unit(name, "content", KG, carrier="tub")
    # Told late: from the very moment of the second filling on, the tub held what was filled in first.
    again = {"content": d.units["first"].uid, "since": stamp(day(1))}
    d.events[-1].rows["logs"][0] |= {"replace": True, "from": stamp(day(1)), "entries": [again]}
    d.save()
    assert d.name(find_unit(TUB)) == "first"
