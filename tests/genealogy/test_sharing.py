"""Which hulls share a cause: on random plants with records missing, against every way in which they may have read."""

import csv
import io
import json
from collections.abc import Iterator
from itertools import product
from random import Random

import pytest
from django.core.management import CommandError, call_command

from tests.genealogy.graphs import KG, Drawing, Drawn, day
from tests.genealogy.test_scope import bags, charge, hull
from trace.genealogy import carried, deeds
from trace.genealogy.as_typed import understood
from trace.genealogy.carried import reached_hulls
from trace.genealogy.cause_words import RANGED, WORDS, Fact, Thing, names_more
from trace.genealogy.causes import (
    All,
    Cause,
    CauseError,
    Holds,
    Made,
    Not,
    Some,
    With,
    read_cause,
    simple_parts,
    written,
)
from trace.genealogy.drill import drawn_by_lot
from trace.genealogy.find import UnknownCodeError
from trace.genealogy.graph import Edge
from trace.genealogy.judging import Asked
from trace.genealogy.known_values import values
from trace.genealogy.shared_documents import as_json, as_rows
from trace.genealogy.sharing import Shared, shared_by

pytestmark = pytest.mark.django_db
ARMS, SCALES, LOTS = ("S1", "S2", "S3"), ("W-1", "W-2"), ("A", "B")
RECIPE = {"layers": [{"name": "skin", "material": "LL-35 red"}, {"name": "foam", "material": "FM-22"}]}
CAUSES: tuple[Cause, ...] = (
    *(With("arm", arm) for arm in ARMS), *(With("scale", scale) for scale in SCALES),
    Holds("A"), Holds("B"), Holds("A", "skin"), Made(day(3).date(), day(6).date()),
)  # fmt: skip


class Floor:
    """A plant of which some records were lost: for each hull what is on record, None where nothing is."""

    def __init__(self, seed: int, hulls: int = 7) -> None:
        self.random = Random(seed)
        self.drawing = d = Drawing()
        for arm in ARMS:
            d.thing("machine", arm, {})
        for scale in SCALES:
            d.thing("instrument", scale, {})
        d.thing("product", "T430", RECIPE)
        for lot in LOTS:
            d.lot(lot, material="LL-35 red")
            d.content(lot.lower(), 500 * KG, material="LL-35 red")
            d.edge(lot.lower(), lot, "receive", 500 * KG)
        self.arm: dict[str, str | None] = {}
        self.skin: dict[str, tuple[str, str] | None] = {}
        self.day: dict[str, int] = {}
        for n in range(hulls):
            self._one(f"{n}")
        d.save()

    def _one(self, n: str) -> None:
        d, at = self.drawing, self.random.randint(1, 9)
        d.at(at)
        arm = self.random.choice([*ARMS, None])
        skin = self.random.choice([*product(SCALES, LOTS), None])
        self.arm["H" + n], self.skin["H" + n], self.day["H" + n] = arm, skin, at
        d.unit("L" + n, "load", about={"product": "T430"})
        if skin:
            scale, lot = skin
            charge(d, "C" + n, (lot.lower(), 12 * KG))
            d.act("weighed", "C" + n, scale=f"instrument:{scale}")
            d.edge("L" + n, "C" + n, "charge", layer="skin")
        else:
            d.gap("L" + n, "layer", "skin")
        if arm:
            d.act("cook_started", "L" + n, arm=f"machine:{arm}")
        else:
            d.gap("L" + n, "cycle", "")
        d.unit("M" + n, "moulding", about={"product": "T430"})
        d.edge("M" + n, "L" + n, "cavity")
        d.unit("H" + n, "hull", about={"product": "T430"})
        d.edge("H" + n, "M" + n, "bind")

    def worlds(self, hull: str) -> Iterator[dict[Cause, bool]]:
        """Every way in which the lost records of a hull may have read, by what holds of it then."""
        arms = [self.arm[hull]] if self.arm[hull] else ["other", *ARMS]
        skins = [self.skin[hull]] if self.skin[hull] else [*product(("other", *SCALES), ("other", *LOTS))]
        # Nobody knows what else went in, in a cycle that is not on record.
        more = ["none"] if self.arm[hull] else ["none", *LOTS]
        for arm, said, besides in product(arms, skins, more):
            assert said is not None
            scale, lot = said
            yield {
                **{With("arm", one): arm == one for one in ARMS},
                **{With("scale", one): scale == one for one in SCALES},
                Holds("A"): "A" in (lot, besides), Holds("B"): "B" in (lot, besides),
                Holds("A", "skin"): "A" in (lot, besides),
                Made(day(3).date(), day(6).date()): 3 <= self.day[hull] <= 6,
            }  # fmt: skip

    def cause(self, depth: int = 3) -> Cause:
        if depth == 0 or self.random.random() < 0.25:
            return self.random.choice(CAUSES)
        if self.random.random() < 0.3:
            return Not(self.cause(depth - 1))
        parts = tuple(self.cause(depth - 1) for _ in range(self.random.randint(2, 3)))
        return self.random.choice((All, Some))(parts)


def holds(cause: Cause, world: dict[Cause, bool]) -> bool:
    match cause:
        case Not(part):
            return not holds(part, world)
        case All(parts):
            return all(holds(part, world) for part in parts)
        case Some(parts):
            return any(holds(part, world) for part in parts)
        case _:
            return world[cause]


def verdicts(answer: Shared, d: Drawing) -> dict[str, str]:
    return {d.name(line.node.id): line.verdict for line in answer.lines}


def asked_about(cause: Cause) -> list[str]:
    """Which records each part rests on, once for each time it is asked."""
    match cause:
        case Not(part):
            return asked_about(part)
        case All(parts) | Some(parts):
            return [record for part in parts for record in asked_about(part)]
        case With("arm", _):
            return ["arm"]
        case Made():
            return []
        case _:
            return ["skin"]


@pytest.mark.parametrize("seed", range(8))
def test_an_answer_holds_whichever_way_the_lost_records_read(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    if seed % 2:
        monkeypatch.setattr(deeds, "MANY", 0)
    floor = Floor(seed)
    exact = 0
    for _ in range(25):
        cause = floor.cause()
        answer = verdicts(shared_by(cause), floor.drawing)
        assert answer.keys() == floor.arm.keys()
        for name, verdict in answer.items():
            true = {holds(cause, world) for world in floor.worlds(name)}
            assert verdict != "certain" or true == {True}, (name, cause)
            assert verdict != "cannot" or true == {False}, (name, cause)
            # A record that is asked about once is doubted in one place: then nothing is called may without need.
            if len(asked_about(cause)) == len(set(asked_about(cause))):
                assert (verdict == "may") == (len(true) == 2), (name, cause)
                exact += 1
    assert exact > 20


def test_one_record_removed_at_random_turns_its_hull_to_may() -> None:
    whole = Floor(3, hulls=9)
    answer = verdicts(shared_by(With("arm", "S1")), whole.drawing)
    assert {answer[name] for name, arm in whole.arm.items() if arm == "S1"} == {"certain"}
    assert {answer[name] for name, arm in whole.arm.items() if arm is None} == {"may"}
    assert {answer[name] for name, arm in whole.arm.items() if arm not in ("S1", None)} == {"cannot"}


def two_hulls() -> Drawing:
    """H1: 7 kg of S in its inner layer, weighed on W-3, cooked on S2. H2: no cook on record, entered late on day 5."""
    d = Drawing()
    d.thing("machine", "S2", {})
    d.thing("instrument", "W-3", {})
    d.thing("consignee", "WHARFE", {})
    bags(d, S=25, T=25)
    d.at(1)
    for n, lot in ("1", "s"), ("2", "t"):
        charge(d, "C" + n, (lot, 7 * KG))
        d.act("weighed", "C" + n, scale="instrument:W-3")
        hull(d, n, ("C" + n, "inner"))
        d.unit("P" + n, "plate")
        d.serial(f"GHM-T430-00000{n}", "P" + n)
        d.edge("H" + n, "P" + n, "plate")
        d.place("H" + n, "R2-1")
    d.act("cook_started", "L1", arm="machine:S2")
    d.gap("L2", "cycle", "")
    d.at(2).unit("K", "pack")
    d.edge("K", "H2", "pack")
    d.place("K", "gone: WHARFE")
    d.at(1, recorded=5).act("cook_started", "L2", arm="machine:S2")
    d.close_gap("L2", "cycle", "")
    return d


def test_the_answer_as_known_on_a_day_stays() -> None:
    d = two_hulls()
    d.save()
    assert verdicts(shared_by(With("arm", "S2"), day(3)), d) == {"H1": "certain", "H2": "may"}
    assert verdicts(shared_by(With("arm", "S2")), d) == {"H1": "certain", "H2": "certain"}
    assert verdicts(shared_by(With("arm", "S2"), day(3)), d) == {"H1": "certain", "H2": "may"}
    # What was done to a pack was done to the hulls in it.
    assert verdicts(shared_by(With("consignee", "WHARFE")), d) == {"H1": "cannot", "H2": "certain"}


def test_a_hull_made_before_records_is_of_its_model_and_went_where_it_went() -> None:
    d = Drawing()
    for kind, key in ("product", "T430"), ("product", "H320"), ("consignee", "WHARFE"), ("place", "STORE"):
        d.thing(kind, key, {})
    d.unit("OLD", "hull", about={"product": "T430", "origin": "before records"})
    d.unit("NOBODY-KNOWS", "hull")
    d.place("OLD", "gone: WHARFE")
    d.place("NOBODY-KNOWS", "STORE")
    d.save()
    asked = {word: verdicts(shared_by(With(*word)), d) for word in (("model", "T430"), ("model", "H320"))}
    assert asked == {
        ("model", "T430"): {"OLD": "certain", "NOBODY-KNOWS": "may"},
        ("model", "H320"): {"OLD": "cannot", "NOBODY-KNOWS": "may"},
    }
    assert verdicts(shared_by(With("consignee", "WHARFE")), d) == {"OLD": "certain", "NOBODY-KNOWS": "cannot"}
    assert verdicts(shared_by(With("place", "STORE")), d) == {"OLD": "cannot", "NOBODY-KNOWS": "certain"}


def test_what_a_correction_makes_anew_was_weighed_where_it_was_weighed_first() -> None:
    d = Drawing()
    d.thing("instrument", "W-3", {})
    bags(d, S=25, T=25)
    charge(d, "OLD", ("s", 7 * KG))
    weighed = d.edges[-1]
    d.used.append((weighed.edge.event, "scale", "instrument", "W-3"))
    d.unit("NEW", "charge", 7 * KG)
    corrected = d.event("corrected", {"edges": [{"of": str(d.events[weighed.edge.event - 1].uid)}]})
    weighed.void = corrected, d.recorded
    into = Edge(len(d.edges) + 1, d.id("NEW"), d.id("t"), corrected, "draw", None, None, 7 * KG, "mg")
    d.edges.append(Drawn(into, d.recorded, False))
    hull(d, "1", ("NEW", "skin"))
    d.save()
    assert verdicts(shared_by(With("scale", "W-3")), d) == {"H1": "certain"}
    assert shared_by(With("scale", "W-3")).lines[0].why == "scale W-3: edge 5 Jan 2026 08:00"


def test_what_was_done_to_a_hull_is_not_done_to_what_its_trimmings_go_into() -> None:
    d = Drawing()
    d.thing("machine", "S1", {})
    bags(d, S=25)
    charge(d, "C1", ("s", 12 * KG))
    hull(d, "1", ("C1", "skin"))
    d.act("cook_started", "L1", arm="machine:S1")
    d.unit("R", "regrind", 2 * KG)
    d.edge("R", "M1", "regrind", 2 * KG)
    charge(d, "C2", ("R", 2 * KG))
    hull(d, "2", ("C2", "skin"))
    d.save()
    assert verdicts(shared_by(With("arm", "S1")), d) == {"H1": "certain", "H2": "cannot"}
    assert verdicts(shared_by(Holds("S")), d) == {"H1": "certain", "H2": "certain"}


def test_a_plant_day_ends_with_its_night_shift_by_what_was_set_then() -> None:
    d = Drawing()
    d.thing("setting", "shifts", {"value": ["06:00", "14:00", "22:00"]})
    # 02:00 in the night of day 2, in the plant's winter time.
    bags(d, S=25)
    d.at(1.75)
    charge(d, "C1", ("s", 7 * KG))
    hull(d, "1", ("C1", "skin"))
    d.save()
    (line,) = shared_by(read_cause(["made=2026-01-06"])).lines
    assert (f"{line.built.first:%d %H:%M}", line.verdict) == ("07 02:00", "certain")
    assert shared_by(read_cause(["made=2026-01-07"])).lines[0].verdict == "cannot"


@pytest.mark.parametrize(("nearest", "at_once"), [(0, False), (6_000, True)])
def test_what_went_too_far_to_be_reckoned_is_never_told_surer_than_it_is(
    nearest: int, at_once: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    floor = Floor(5, hulls=9)
    causes: list[Cause] = [Holds("A"), Holds("B"), *(With("scale", scale) for scale in SCALES)]
    exact = [verdicts(shared_by(cause), floor.drawing) for cause in causes]
    monkeypatch.setattr(carried, "MOST_RECKONED", 0)
    monkeypatch.setattr(carried, "NEAREST", nearest)
    if at_once:
        monkeypatch.setattr(carried, "FAR", 0)
    for cause, known in zip(causes, exact, strict=True):
        answer = shared_by(cause)
        far = verdicts(answer, floor.drawing)
        assert {name for name in far if far[name] == "cannot"} == {n for n in known if known[n] == "cannot"}
        if isinstance(cause, Holds):
            assert any("Very much was made" in gap.said for gap in answer.gaps)
            sure = {name for name in known if known[name] == "certain"} if nearest else set()
            assert {name for name in far if far[name] == "certain"} == sure


def test_only_what_is_shown_is_looked_up() -> None:
    floor = Floor(2)
    answer = shared_by(All((With("arm", "S1"), Holds("A"))))
    assert not answer.telling.whys
    assert not answer.telling.nodes
    answer.look_up(answer.lines[:2])
    assert len(answer.telling.whys) == len(answer.telling.nodes) == len(answer.telling.places) == 2
    assert len({line.why for line in answer.lines} | {line.node.uid for line in answer.lines}) > len(floor.arm)


def test_a_line_says_why_how_much_and_where() -> None:
    d = two_hulls()
    d.save()
    cause = All((Holds("S", "inner"), Not(With("consignee", "WHARFE")), With("scale", "W-3")))
    first, second = sorted(shared_by(cause).lines, key=lambda line: line.node.code)
    assert (first.verdict, first.place) == ("certain", "R2-1")
    assert first.why == (
        "7.000 kg of S in its inner; no act with consignee WHARFE is on record; scale W-3: weighed 6 Jan 2026 08:00"
    )
    share, uom = first.shares[Holds("S", "inner")]
    assert (share.total.least, share.total.most, uom) == (7 * KG, 7 * KG, "mg")
    assert (second.verdict, second.why) == ("cannot", "no record leads from S in its inner to it")
    assert simple_parts(cause) == list(shared_by(cause).parts)


def test_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    two_hulls().save()
    call_command("scope", "holds=S", "or", "arm=S2", "--as-known-on", day(3).isoformat(), "--json")
    document = json.loads(capsys.readouterr().out)
    assert document["counts"] == {"certain": 1, "may": 1, "cannot": 0}
    assert document["cause"] == ["holds=S", "or", "arm=S2"]
    # Nobody knows what went into the hull whose cycle is not on record.
    seven = {"of": "S", "part": "inner", "min": "7.000", "best": "7.000", "max": "7.000", "uom": "KGM"}
    open_ = {"of": "S", "part": None, "min": "0.000", "best": None, "max": "25.000", "uom": "KGM"}
    assert {hull["code"]: hull["amounts"] for hull in document["hulls"]} == {
        "GHM-T430-000001": [seven], "GHM-T430-000002": [open_],
    }  # fmt: skip
    assert {gap["what"] for gap in document["gaps"]} == {"cycle"}
    call_command("scope", "holds=S", "--csv")
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [(row["hull"], row["verdict"], row["least"], row["unit"]) for row in rows] == [
        ("GHM-T430-000001", "certain", "7.000", "KGM"), ("GHM-T430-000002", "cannot", "", ""),
    ]  # fmt: skip
    call_command("scope", "arm=S2")
    assert "2 certain, 0 may, 0 cannot, of 2 hulls" in capsys.readouterr().out
    for words, says in (("arm=S9", "No arm S9 is known."), ("holds=nothing", "Nothing is known under")):
        with pytest.raises(CommandError, match=says):
            call_command("scope", words)


def one_of_each_word() -> tuple[Drawing, dict[str, str]]:
    """A hull, and what the plant and the records know under each word that names something, as it is written."""
    d = Drawing()
    kinds = {name: word.kind for name, word in WORDS.items() if isinstance(word, Thing | Fact) and word.kind}
    for kind in sorted({*kinds.values(), "supplier"} - {"product"}):
        d.thing(kind, "VERRIN" if kind == "supplier" else "X", {})
    recipe = {"layers": [{"name": "skin"}], "inserts": {"S1": {}}, "zones": {"bow": {}}, "cook": {"stages": ["heat"]}}
    d.thing("product", "X", {**recipe, "colours": ["red", "lime"], "cavities": ["left"]})
    d.thing("material", "M", {"spec": {"mfi": [3, 4]}})
    d.thing("material", "TR-4", {"kind": "release agent"})
    d.lot("R-12", material="TR-4")
    bags(d, S=25)
    charge(d, "C1", ("s", 7 * KG))
    hull(d, "1", ("C1", "skin"))
    d.save()
    known = {
        "coat": "TR-4 lot R-12",
        "holds": "S", "supplier": "VERRIN", "made": "2026-01-05", "recipe": "X/1", "shift": "06:00", "colour": "red",
        "cavity": "left", "use": "hire", "certificate": "mfi", "charged": "skin", "stage": "heat", "thickness": "bow",
    }  # fmt: skip
    return d, {name: known.get(name, "X") for name in WORDS}


def words_for(name: str, value: str) -> list[list[str]]:
    """The ways in which a value is named under a word."""
    if name in RANGED:
        return [[f"{name}:{value}=1.."]] if names_more(name) else []
    return [[f"{name}={value}"], *([["holds=S", f"in={value}"]] if name == "holds" else [])]


@pytest.mark.parametrize("nothing", ["Zz", "Red", "ski"])
def test_a_value_that_nothing_knows_is_refused_under_every_word(nothing: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """“cannot” for every hull would be a clean bill for a slip of the pen."""
    _drawing, known = one_of_each_word()
    known["region"] = "GB-SCT"
    monkeypatch.setattr("trace.genealogy.known_values._regions", lambda: {"GB-SCT"})
    for name in WORDS:
        if name == "made":
            continue  # any day is a day
        for words in words_for(name, nothing):
            with pytest.raises((CauseError, UnknownCodeError)) as refused:
                Asked(day(9), {}).judged(simple_parts(read_cause(words))[0])
            if name != "holds" and "write it as" not in str(refused.value):
                assert known[name] in str(refused.value), words


def test_what_is_refused_is_said_with_the_names_that_are_known() -> None:
    one_of_each_word()
    with pytest.raises(CauseError, match=r"^No colour Red is known\. Known: lime, red\.$"):
        shared_by(With("colour", "Red"))
    with pytest.raises(CauseError, match=r"^No layer, position or zone inner is known\. Known: S1, bow, skin"):
        shared_by(Holds("S", "inner"))


def test_names_and_the_case_of_letters_are_taken_as_people_write_them() -> None:
    d = Drawing()
    d.thing("machine", "A3", {"kind": "arm"})
    d.thing("place", "R6-1", {"name": "Rack R6, level 1"})
    d.thing("supplier", "DUNSAY", {"name": "Dunsay Powders"})
    d.thing("consignee", "C-1", {"name": "Lockgate"})
    d.thing("consignee", "C-2", {"name": "Lockgate"})
    d.thing("product", "T430", {"name": "Tamsin 430", "colours": ["red"], "layers": [{"name": "skin"}]})
    bags(d, **{"N-0417": 25})
    d.save()
    for typed, written_so in (
        ("arm=a3", "arm=A3"), ("place=rack R6, level 1", "place=R6-1"), ("supplier=Dunsay Powders", "supplier=DUNSAY"),
        ("model=tamsin 430", "model=T430"), ("colour=Red", "colour=red"), ("holds=n-0417", "holds=N-0417"),
        ("charged:Skin=1..", "charged:skin=1.."), ("region=gb-sct", "region=GB-SCT"), ("arm=S9", "arm=S9"),
    ):  # fmt: skip
        assert written(understood([typed])) == [written_so]
    two = ["not", "(", "arm=A3", "or", "colour=red", ")"]
    assert written(understood(["not", "(", "arm=a3", "or", "colour=RED", ")"])) == two
    with pytest.raises(CauseError, match=r"“Lockgate” is the name of several: C-1, C-2\. Say which\."):
        understood(["consignee=Lockgate"])


def test_every_word_is_judged() -> None:
    _drawing, known = one_of_each_word()
    for name in WORDS:
        value = "GB" if name == "region" else known[name]
        for words in words_for(name, value) or [[f"{name}=1.."]]:
            asked = read_cause([word.replace("in=S", "in=S1") for word in words])
            (line,) = shared_by(asked).lines
            assert line.why, name
            assert shared_by(Not(asked)).lines[0].verdict != "may" or line.verdict == "may"


def test_a_hull_ground_up_leads_on_to_what_it_went_into_unless_that_is_left_out() -> None:
    d = Drawing()
    d.lot("S", material="LL-35 red")
    d.content("s", 50 * KG)
    d.edge("s", "S", "receive", 50 * KG)
    charge(d, "C1", ("s", 12 * KG))
    hull(d, "1", ("C1", "skin"))
    d.unit("R", "regrind", 12 * KG)
    d.edge("R", "H1", "regrind", 12 * KG)
    charge(d, "C2", ("R", 3 * KG))
    hull(d, "2", ("C2", "inner"))
    d.save()
    ids = {d.units[name].id: name for name in ("H1", "H2")}
    known = day(9)
    assert {ids[one] for one in reached_hulls([d.units["s"].id], known)} == {"H1", "H2"}
    assert {ids[one] for one in reached_hulls([d.units["s"].id], known, through_regrind=False)} == {"H1"}


def test_the_rows_of_a_file_have_the_kilograms_of_the_answer() -> None:
    floor = Floor(1)
    answer = shared_by(Holds("A"))
    head, *rows = as_rows(answer)
    told = [
        (one["code"], one["verdict"], *(str(amount[name] or "") for name in ("min", "best", "max")))
        for one in as_json(answer)["hulls"] for amount in one["amounts"] or [dict.fromkeys(("min", "best", "max"))]
    ]  # fmt: skip
    assert [(row[0], row[1], *row[-4:-1]) for row in rows] == told
    assert any(least for *_hull, least, _best, _most in told), floor
    assert len({len(row) for row in (head, *rows)}) == 1


@pytest.mark.parametrize(("word", "others"), [("oven", "arm"), ("arm", "oven"), ("scale", "gauge")])
def test_only_things_of_its_kind_are_offered_under_a_word(word: str, others: str) -> None:
    d = Drawing()
    for kind in ("oven", "arm"):
        d.thing("machine", f"{kind} 1", {"kind": kind})
    for kind in ("scale", "gauge"):
        d.thing("instrument", f"{kind} 1", {"kind": kind})
    d.save()
    offered = values(word) or {}
    assert f"{word} 1" in offered and f"{others} 1" not in offered


def test_a_plant_with_nothing_in_it_draws_nothing_for_a_drill() -> None:
    assert drawn_by_lot() == ("", "")
