"""What the bad ones share, over a told history: the answer, the command, the page and the document for other
systems."""

import io
import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import yaml
from django.core.management import CommandError, call_command
from django.test import Client

from tests.cast import statements
from tests.pages.story import Told
from trace.codes import printed
from trace.genealogy.causes import Holds
from trace.genealogy.sharing import shared_by
from trace.pages.common_cause import bad_without, p_said, percent
from trace.quality.common_cause import CommonCause, common_cause
from trace.quality.factors import asks, said
from trace.quality.question import Question, QuestionError
from trace.quality.ranking import Ranking, ranked
from trace.recording.acts.complaints import TakeComplaint
from trace.recording.acts.repairs import Repair
from trace.recording.acts.sampling import EndSample, TakeSample

BAD = ("no log", "no foam", "held", "cooked twice")


def asked(story: Told, *, sold: bool = False) -> CommonCause:
    return common_cause(Question(tuple(story.hulls[name] for name in BAD), sold=sold))


def test_what_the_bad_ones_share_is_found(story: Told) -> None:
    answer = asked(story)
    assert {answer.hulls[n].code for n in answer.bad} == {story.hulls[name] for name in BAD}
    # Six kayaks; the sleds are of another model.
    assert len(answer.hulls) == 6
    found = {said(name, answer.units): one for one in answer.ranking.nearest for name in answer.names(one)}
    lot = found["M8-N lot N-0417"]
    # It is in the four bad ones alone, one way of fifteen; "no foam" may hold anything in its foam, but no insert.
    assert (lot.table.hit, lot.table.exposed) == (4, 4)
    assert lot.p_more == pytest.approx(1 / 15)
    assert found["M8-N lot N-0417 in S1"].table.hit == 3
    assert answer.ranking.causes > 60
    assert answer.ranking.first is None
    name = next(n for n in answer.names(lot) if said(n, answer.units) == "M8-N lot N-0417")
    shared = shared_by(Holds(asks(name, answer.units)[0].partition("=")[2]))
    certain = {line.node.code for line in shared.lines if line.verdict == "certain"}
    assert certain == {story.hulls[name] for name in BAD}


def test_a_missing_record_leaves_causes_open_and_is_said(story: Told) -> None:
    answer = asked(story)
    foams = [n for n, f in enumerate(answer.factors) if said(f, answer.units) == "FM-22 lot F-118"]
    number = next(n for n, hull in enumerate(answer.hulls) if hull.code == story.hulls["no foam"])
    assert number in answer.pairs.of(foams[0], 0)
    assert number not in answer.pairs.of(foams[0])
    assert any("layer foam" in note for note in answer.notes)
    assert "Unsold hulls are counted too" in " ".join(answer.notes)


def test_at_risk_are_those_that_were_sold(story: Told) -> None:
    answer = common_cause(Question((story.hulls["held"],)))
    # One kayak was sent, and the bad one is compared with it though it never was.
    assert {hull.code for hull in answer.hulls} == {story.hulls["gone"], story.hulls["held"]}
    assert f"Bad, and never sent by the records: {story.hulls['held']}." in answer.notes


def test_what_was_done_since_it_was_sold_is_no_cause(story: Told) -> None:
    before = asked(story)
    story.plant.go_on()
    story.plant.inspect(
        story.hulls["gone"], mode="tells", verdict="fail", happened=story.plant.clock.now,
        overrides={"INSPECT-GONE": "It came back"},
    )  # fmt: skip
    after = asked(story)
    assert after.tree_size > before.tree_size
    assert after.factors == before.factors


def test_what_repaired_it_after_it_was_complained_of_is_no_cause(story: Told) -> None:
    """A rod that welds the crack is a consequence; one of a repair before it was sold may be the cause."""
    plant, (first, second) = story.plant, (story.hulls["gone"], story.hulls["held"])
    [rods] = plant.shift.stock("VERRIN", "ROD-35", "RW-7", ("2.000",))
    mend = {"work": "welded", "spot": "Z3", "source": rods, "amount": "0.045"}
    plant.go_on()
    plant.scan(Repair(hull=second, **mend), person="P-06")
    before = asked(story)
    assert "ROD-35 lot RW-7" in {said(name, before.units) for name in before.factors}
    plant.clock.on(days=2)
    plant.scan(TakeComplaint(hull=first, symptom="crack at insert", spot="S5"), person="P-06")
    known = asked(story).factors
    plant.clock.on(days=2)
    plant.scan(Repair(hull=first, **mend), mode="tells", person="P-06", happened=plant.clock.now)
    answer = asked(story)
    assert answer.factors == known
    number = next(n for n, hull in enumerate(answer.hulls) if hull.code == first)
    rod = next(n for n, name in enumerate(answer.factors) if said(name, answer.units) == "ROD-35 lot RW-7")
    assert number not in answer.pairs.of(rod, 0)


def test_as_known_on_a_day_it_stays_the_same_answer(story: Told) -> None:
    answer = asked(story)
    few = len(statements(lambda: asked(story)))
    story.plant.go_on()
    story.plant.kayak(bag=6)
    assert asked(story).ranking.hulls == 7
    # One hull more asks no more.
    assert len(statements(lambda: asked(story))) <= few < 45
    again = common_cause(answer.question, answer.as_known_on)
    assert again.factors == answer.factors
    assert again.ranking.nearest == answer.ranking.nearest


def test_the_command_says_the_same(story: Told) -> None:
    plates = [story.hulls[name] for name in BAD]
    out = io.StringIO()
    call_command("common_cause", *plates, "--unsold", "--json", stdout=out)
    document, answer = json.loads(out.getvalue()), asked(story)
    assert (document["at_risk"], document["looked_at"]) == (6, answer.ranking.causes)
    assert [c["bad"] for c in document["causes"]] == [one.table.hit for one in answer.ranking.nearest]
    words = io.StringIO()
    call_command("common_cause", *plates, "--unsold", "--first", "2026-01-01", stdout=words)
    assert "proves nothing" in words.getvalue()
    with pytest.raises(CommandError, match="Nothing is known under"):
        call_command("common_cause", "GHM-T430-999999")


@pytest.mark.parametrize(
    ("bad", "more", "says"),
    [((), {}, "Name the plates"), (("N-0417",), {}, "is not a hull"), (("held",), {"days": 4000}, "No other hull")],
)
def test_what_cannot_be_compared_is_said(story: Told, bad: tuple[str, ...], more: dict[str, int], says: str) -> None:
    with pytest.raises(QuestionError, match=says):
        common_cause(Question(tuple(story.hulls.get(name, name) for name in bad), **more))  # type: ignore[arg-type]


def test_other_systems_read_the_same(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-08")
    plates = [story.hulls[name] for name in BAD]
    document = client.get("/api/common-cause/", {"bad": plates, "sold": "no"}).json()
    answer = asked(story)
    assert document["looked_at"] == answer.ranking.causes
    assert [c["p_more"] for c in document["causes"]] == pytest.approx(
        [one.p_more for one in answer.ranking.nearest], rel=1e-5
    )
    assert client.get("/api/common-cause/", {"bad": " ".join(plates), "sold": "no"}).json() == document
    shapes = yaml.safe_load(client.get("/api/schema/").content)["components"]["schemas"]
    assert document.keys() == shapes["CommonCauseAnswer"]["properties"].keys()
    assert document["causes"]
    assert all(row.keys() == shapes["Cause"]["properties"].keys() for row in document["causes"])
    bad = f"bad={plates[0]}"
    for asks_for, status in (
        ("bad=nobody", 404), ("", 400), (f"{bad}&days=x", 400), (f"{bad}&first=soon", 400),
        (f"{bad}&first=2026-05-01&last=2026-04-01", 400),
    ):  # fmt: skip
        said_so = client.get(f"/api/common-cause/?{asks_for}", headers={"Accept": "application/json"})
        assert said_so.status_code == status, asks_for
        assert said_so.json()["what"]
    # It can name a person: not everybody asks.
    assert signed_in("P-07").get("/api/common-cause/", {"bad": plates}).status_code == 403


def test_the_page_says_it_in_a_picture_and_a_table(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-08")
    assert client.get("/common-cause/").context["page"].told is None
    plates = [story.hulls[name] for name in BAD]
    page = client.get("/common-cause/", {"bad": plates, "sold": "no"})
    told, answer = page.context["page"].told, asked(story)
    assert told.says.startswith("Nothing stands out")
    assert [row.hit for row in told.rows] == [f"{o.table.hit} of 4" for o in answer.ranking.nearest]
    assert len(told.chart.wide.balloons) == 6
    assert told.rows[0].url
    # In words before any figure, and why a scope counts others.
    assert all(row.words.startswith(f"in {row.hit.split(' ')[0]} of the 4 bad and in ") for row in told.rows)
    assert told.at_risk.startswith("At risk are the 6 hulls of T430 that are asked about. A scope counts every model.")
    # Asked now its links are to pages of now; asked for a day, of that day.
    assert not any("as_known_on" in row.url for row in told.rows)
    past = client.get("/common-cause/", {"bad": plates, "sold": "no", "as_known_on": "2026-06-01"})
    assert all("as_known_on" in row.url for row in past.context["page"].told.rows if row.url)
    lot = next(row for row in told.rows if "M8-N lot N-0417" in (row.name, *row.also))
    assert (lot.hit, lot.p) == ("4 of 4", "0.067")
    assert any(one.name == "M8-N lot N-0417" and (one.bad, one.good) == (4, 0) for one, _strip in told.differs)
    html = page.content.decode()
    assert html.count('class="drawing strip"') == len(told.differs)
    assert "M8-N lot N-0417. Of the bad 4 of 4 have it; of the good 0 of " in html
    # Folded away by the page itself, without a script.
    assert f"The same in all, bad and good, as far as records say: {told.same_count} rows" in html
    assert '<details class="shared-same">' in html
    assert told.same_count == sum(len(names) for _sort, names in told.same) > 3
    assert dict(told.paper.words) == {"bad": "\n".join(plates), "sold": "no"}
    # People are named, as everywhere at the desk.
    assert not any(key in page.content.decode() for key in (">P-01 ", ">P-02 "))
    assert client.get(told.pairs[0][2]).status_code == 200
    for asks_for, status in (("bad=nobody", 404), (f"bad={plates[0]}&days=x", 400)):
        assert client.get(f"/common-cause/?{asks_for}").status_code == status


def test_a_retained_sample_of_what_stands_out_is_named_until_it_is_used(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As if four of four were past chance: six hulls are too few for that."""
    def first_out(*asked: Any) -> Ranking:
        ranking = ranked(*asked)
        return replace(ranking, nearest=(replace(ranking.nearest[0], standing="stands out"), *ranking.nearest[1:]))

    whole = asked(story)
    nearest = whole.ranking.nearest[0]
    assert "M8-N lot N-0417" in {said(name, whole.units) for name in whole.names(nearest)}
    monkeypatch.setattr("trace.quality.common_cause.ranked", first_out)
    took = TakeSample(box=story.plant.boxes["m8 2"][0], amount="2")
    made = story.plant.scan(took, person="P-06").made["codes"][0]
    client, plates = signed_in("P-08"), [story.hulls[name] for name in BAD]
    page = client.get("/common-cause/", {"bad": plates, "sold": "no"})
    [test, *_others] = page.context["page"].told.tests
    assert (test.what, test.hulls, test.whole) == ("A retained sample of M8-N lot N-0417", 4, True)
    assert [code for code, _url in test.samples] == [printed(made)]
    assert client.get(test.samples[0][1]).status_code == 200
    text = page.content.decode()
    assert printed(made) in text and "as far as it is alike throughout, which a sample cannot show" in text
    said_so = client.get("/api/common-cause/", {"bad": plates, "sold": "no"}).json()["tests"][0]
    assert (said_so["samples"], said_so["hulls"]) == ([made], 4)
    story.plant.scan(EndSample(sample=made, how="used", reason="pull-out torque"), person="P-06")
    assert not any(one.samples for one in asked(story).tests)


def test_a_bad_hull_that_lacks_the_record_is_not_said_to_be_without_it(story: Told) -> None:
    answer = asked(story)
    names = [said(factor, answer.units) for factor in answer.factors]
    foam, inserts = names.index("FM-22 lot F-118"), names.index("M8-N lot N-0398")
    one = answer.ranking.nearest[0]
    [said_of_foam] = [w for w in bad_without(answer, replace(one, causes=(foam,))) if story.hulls["no foam"] in w]
    assert said_of_foam.startswith("May have it, since a record is missing")
    assert bad_without(answer, replace(one, causes=(inserts,)))[0].startswith("Without it")


def test_a_p_is_told_as_people_write_it() -> None:
    assert [p_said(p) for p in (0.5, 0.0047, 5.83e-6, 0.0)] == ["0.5", "0.0047", "5.8 × 10⁻⁶", "0"]
    assert [percent(share) for share in (0.0194, 0.17, float("nan"))] == ["1.9 %", "17 %", "–"]
