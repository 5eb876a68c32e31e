"""The page of a scope: put together by its form, its parts counted, its list paged and filed."""

import csv
import io
import json
import re
from collections.abc import Callable
from html import unescape
from urllib.parse import parse_qs, quote, urlsplit

import pytest
from django.test import Client
from django.utils import timezone

from tests.cast import rows_of
from tests.pages.story import Told
from trace.genealogy.admitted import Admitted
from trace.genealogy.answer import genealogy
from trace.genealogy.cause_said import said_of
from trace.genealogy.cause_words import WORDS, Fact, Thing
from trace.genealogy.causes import All, Holds, Made, Not, Some, With, read_cause
from trace.genealogy.sharing import shared_by
from trace.models import Unit
from trace.pages.scope_gaps import GapGroup, grouped_gaps
from trace.pages.units.unit import GOES_ON


@pytest.fixture
def client(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("P-08")


def test_a_question_is_put_together_one_cause_after_the_other(client: Client) -> None:
    asked = client.get("/scope/", {"join": "", "name": "holds", "value": " N-0417 ", "part": "S1"})
    assert parse_qs(urlsplit(asked["Location"]).query)["q"] == ["holds=N-0417", "in=S1"]
    more = client.get(
        "/scope/", {"q": ["holds=N-0417", "in=S1"], "join": "and not", "name": "arm", "value": "S2"}
    )
    words = parse_qs(urlsplit(more["Location"]).query)["q"]
    assert words == ["holds=N-0417", "in=S1", "and", "not", "arm=S2"]
    page = client.get(more["Location"]).context["page"]
    assert page.title == "hold something of N-0417 in their S1 and were not cooked on arm S2"
    answer = shared_by(read_cause(words))
    assert page.counts == {verdict: answer.count(verdict) for verdict in ("certain", "may", "cannot")}
    assert page.counts["certain"] > 0
    assert page.pages.count == page.counts["certain"] + page.counts["may"]
    # The second part is counted as it is said: those that were not cooked there.
    there = shared_by(With("arm", "S2"))
    assert (page.parts[1].certain, page.parts[1].cannot) == (there.count("cannot"), there.count("certain"))
    without = client.get(page.parts[1].without_url).context["page"]
    assert without.words == ("holds=N-0417", "in=S1")
    assert "not" in dict(client.get("/scope/").context["page"].joins)


def test_the_list_shows_every_hull_that_is_asked_for(client: Client) -> None:
    for show, verdicts in (("", {"certain", "may"}), ("may", {"may"}), ("cannot", {"cannot"}), ("all", None)):
        page = client.get("/scope/", {"q": "holds=D-77", "show": show}).context["page"]
        answer = shared_by(Holds("D-77"))
        wanted = {line.node.said for line in answer.lines if verdicts is None or line.verdict in verdicts}
        assert {row.code for row in page.rows} == wanted
    for sort in ("place", "made", "model", "anything else"):
        assert client.get("/scope/", {"q": "holds=D-77", "show": "all", "sort": sort}).status_code == 200


def test_the_answer_is_a_file_too(client: Client) -> None:
    asked = {"q": ["holds=N-0417", "or", "arm=S2"]}
    document = json.loads(client.get("/scope/", {**asked, "file": "json"}).content)
    rows = list(csv.DictReader(io.StringIO(client.get("/scope/", {**asked, "file": "csv"}).content.decode())))
    assert {row["hull"]: row["verdict"] for row in rows} == {h["code"]: h["verdict"] for h in document["hulls"]}


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        ("luck=bad", 400, "not known as a cause"),
        ("arm=S9", 400, "No arm S9 is known."),
        ("made=2026-13-01", 400, "no day or span of days"),
        ("holds=nobody", 404, "Nothing is known under"),
        ("holds=\x00<script>", 404, "Nothing is known under"),
        ("( " * 60, 400, "more than can be asked"),
    ],
)
def test_what_cannot_be_asked_is_said_in_one_sentence(client: Client, words: str, status: int, says: str) -> None:
    answer = client.get("/scope/", {"q": words.split(" ") if "(" in words else words})
    assert answer.status_code == status
    assert says in answer.content.decode()
    assert "<script>" not in answer.content.decode().partition("<main")[2]


def test_a_cause_is_said_as_people_say_it() -> None:
    assert said_of(Not(Holds("K-5510"))) == "hold nothing of K-5510"
    two = Some((With("scale", "W-3"), All((With("arm", "S2"), Made(None, None)))))
    assert said_of(two).startswith("were weighed on scale W-3 or (were cooked on arm S2 and left the mould ")
    assert said_of(Not(two)).startswith("are none of those that were weighed")


def test_a_thing_s_page_leads_to_the_hulls_that_share_it(client: Client, signed_in: Callable[[str], Client]) -> None:
    for address, word in (
        ("/lot/N-0417/", "holds=N-0417"), ("/unit/T430-01/", "mould=T430-01"), ("/unit/W-3/", "instrument=W-3"),
        ("/unit/VERRIN/", "supplier=VERRIN"),
    ):  # fmt: skip
        context = client.get(address).context
        url = (context["lot"] if "lot" in context else context["unit"]).scope_url
        assert parse_qs(urlsplit(url).query) == {"q": [word]}
        assert client.get(url).status_code == 200
    # It can name a person: not everybody asks.
    assert signed_in("P-07").get("/unit/T430-01/").context["unit"].scope_url == ""


def test_every_sort_of_thing_and_of_unit_leads_there(client: Client) -> None:
    """One of each that the story has; what no hull can be made of or with leads nowhere."""
    kinds = {word.kind for word in WORDS.values() if isinstance(word, Thing | Fact) and word.kind} | {"supplier"}
    of_kind = "SELECT DISTINCT ON (kind) kind, {0} FROM {1} ORDER BY kind, id DESC"
    things, units = rows_of(of_kind.format("key", "resource")), rows_of(of_kind.format("uid::text", "unit"))
    found: dict[str, int] = {}
    for kind, code in (*things, *((kind, uid) for kind, uid in units if kind not in ("hull", "lot", "content"))):
        sheet = client.get(f"/unit/{quote(code)}/").context["unit"]
        assert bool(sheet.scope_url) == (kind in kinds | GOES_ON), kind
        if sheet.scope_url:
            found[kind] = client.get(sheet.scope_url).status_code
    assert set(found.values()) == {200}
    assert found.keys() >= {"charge", "load", "moulding", "mould", "machine", "person", "consignee", "works_order"}


def test_what_a_sheet_says_of_a_hull_leads_to_the_hulls_that_share_it(
    client: Client, story: Told, signed_in: Callable[[str], Client]
) -> None:
    """Each sort of cause once, with one press, from the page of the hull, of its lots, its moulding, load and charges;
    the hull is in the list that opens, for certain or maybe."""
    serial = story.hulls["no log"]
    story.plant.inspect(serial, mass="28.70", verdict="fail")
    behind = genealogy(serial, "back").lines
    units = [line.node.uid for line in behind if line.node.kind in ("moulding", "load", "charge")]
    lots = [line.url for line in client.get(f"/hull/{serial}/").context["hull"].lots]
    ways: dict[str, str] = {}
    for page in (f"/hull/{serial}/", *lots, *(f"/unit/{uid}/" for uid in units)):
        html = client.get(page).content.decode()
        for url in re.findall(r'class="asks" href="(/scope/[^"]+)">[^<]*<span class="unseen">', html):
            [word] = parse_qs(urlsplit(unescape(url)).query)["q"]
            ways.setdefault(word, unescape(url))
    asked = {word.partition("=")[0].partition(":")[0] for word in ways}
    assert asked >= {
        "model", "colour", "mould", "cavity", "recipe", "shift", "stage", "hull-mass", "thickness", "certificate",
        "supplier", "works-order", "made", "oven", "arm", "peak", "moulded-mass",
    }  # fmt: skip
    for word, url in ways.items():
        [line] = [line for line in shared_by(read_cause([word])).lines if line.node.serial == serial]
        assert line.verdict in ("certain", "may"), word
        assert client.get(url).context["page"].counts["certain"] > 0 or line.verdict == "may", word
    # Whoever may not ask reads the same words without a way.
    packer = signed_in("P-07").get(f"/hull/{serial}/").content.decode()
    assert "hulls that share it" not in packer and "28.7" in packer


def test_a_slip_in_what_is_added_leaves_the_question_and_what_was_typed(client: Client) -> None:
    asked = {"q": ["holds=N-0417", "and", "arm=S2"], "join": "and not", "name": "shift", "value": "nigth"}
    answer = client.get("/scope/", asked)
    page, html = answer.context["page"], answer.content.decode()
    assert answer.status_code == 400
    assert page.error.startswith("No shift nigth is known. Known: ")
    assert page.words == ("holds=N-0417", "and", "arm=S2")
    assert [part.said for part in page.asked] == ["hold something of N-0417", "were cooked on arm S2"]
    assert client.get(page.asked[0].without_url).context["page"].words == ("arm=S2",)
    assert (page.form.chosen, page.form.join, page.form.typed["value"]) == ("shift", "and not", "nigth")
    assert "take out" in html and 'value="nigth"' in html


def test_a_question_with_a_part_that_nothing_knows_can_be_put_right(client: Client) -> None:
    for words, says, status in (
        (["holds=N-0417", "and", "colour=Purple"], "No colour Purple is known. Known: ", 400),
        (["arm=S2", "or", "holds=N-9999"], "Nothing is known under “N-9999”", 404),
    ):
        answer = client.get("/scope/", {"q": words})
        page = answer.context["page"]
        assert (answer.status_code, page.words) == (status, tuple(words))
        first, second = page.asked
        bad, good = (second, first)
        assert bad.trouble.startswith(says) and not good.trouble
        assert client.get(bad.without_url).context["page"].answer
    # What cannot be read in parts can be begun anew.
    [whole] = client.get("/scope/", {"q": ["arm=S2", "and", "luck=bad"]}).context["page"].asked
    assert (whole.said, whole.without_url) == ("arm=S2 and luck=bad", "/scope/")


def test_what_the_plant_knows_is_chosen_and_the_rest_has_fields_of_its_own(client: Client) -> None:
    page = client.get("/scope/").context["page"]
    offered = {one.name: dict(one.options) for one in page.form.choices}
    assert offered.keys() >= {"arm", "oven", "colour", "model", "recipe", "person", "supplier", "place", "shift", "use"}
    assert offered["supplier"]["VERRIN"].startswith("VERRIN ")
    assert ("S1" in offered["arm"], "OVEN-2" in offered["arm"], "OVEN-2" in offered["oven"]) == (True, False, True)
    fits = {word for words in page.form.fits.values() for word in words.split(" ")} | offered.keys()
    assert fits == set(WORDS)
    for sent, words in (
        ({"name": "arm", "pick-arm": "S2"}, ["arm=S2"]),
        ({"name": "made", "first": "2026-04-01"}, ["made=2026-04-01.."]),
        ({"name": "peak", "low": "200", "high": "215"}, ["peak=200..215"]),
        ({"name": "certificate", "part-certificate": "mfi", "low": "3"}, ["certificate:mfi=3.."]),
        ({"name": "holds", "value": "n-0417", "part-holds": "s1", "from": "1"}, ["holds=N-0417", "in=S1", "from=1"]),
        ({"name": "made", "value": "April 2026"}, ["made=2026-04-01..2026-04-30"]),
    ):
        there = client.get("/scope/", {"join": "", **sent})
        assert parse_qs(urlsplit(there["Location"]).query)["q"] == words


def test_a_question_typed_otherwise_is_the_same_question(client: Client) -> None:
    name = rows_of("SELECT n.text FROM plant_person p JOIN note n ON n.digest = p.body->>'name' WHERE p.key = 'P-01'")
    named = client.get("/scope/", {"q": f"person={name[0][0]}"})
    assert parse_qs(urlsplit(named["Location"]).query)["q"] == ["person=P-01"]
    asked = client.get("/scope/", {"q": ["colour=RED", "and", "made=2026-04"]})
    assert asked.status_code == 302
    words = parse_qs(urlsplit(asked["Location"]).query)["q"]
    assert words == ["colour=red", "and", "made=2026-04-01..2026-04-30"]
    assert client.get(asked["Location"]).status_code == 200


def test_what_is_added_is_said_of_all_that_was_asked(client: Client) -> None:
    asked = {"q": ["arm=S1", "or", "arm=S2"], "join": "and", "name": "holds", "value": "N-0417"}
    words = parse_qs(urlsplit(client.get("/scope/", asked)["Location"]).query)["q"]
    assert words == ["(", "arm=S1", "or", "arm=S2", ")", "and", "holds=N-0417"]
    assert isinstance(read_cause(words), All)
    page = client.get("/scope/", {"q": words, "show": "cannot"}).context["page"]
    assert sum(here.certain + here.may for here in page.places) == page.counts["certain"] + page.counts["may"]


def test_every_word_can_be_picked_and_the_words_stay_from_page_to_page(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = client.get("/scope/").context["page"]
    assert [name for name, _said, _typed in page.form.names] == list(WORDS)
    assert all(said and typed for _name, said, typed in page.form.names)
    monkeypatch.setattr("trace.pages.scope.EACH", 2)
    page = client.get("/scope/", {"q": ["model=T430", "and", "not", "arm=S9"], "show": "all"})
    assert page.status_code == 400
    words = ["holds=N-0417", "or", "arm=S2"]
    page = client.get("/scope/", {"q": words, "show": "all"}).context["page"]
    assert parse_qs(urlsplit(page.pages.older_url).query)["q"] == words
    assert client.get(page.pages.older_url).context["page"].pages.number == 2


@pytest.mark.parametrize("sort", ["place", "made", "model", "consignee"])
def test_the_list_stands_in_groups_and_in_full_on_paper(
    client: Client, sort: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trace.pages.scope.EACH", 2)
    asked = {"q": "made=2000-01-01..", "show": "all", "sort": sort}
    page = client.get("/scope/", asked).context["page"]
    assert len(page.rows) == 2 < page.pages.count
    whole = client.get("/scope/", {**asked, "print": "1"}).context["page"]
    assert len({row.code for row in whole.rows}) == page.pages.count
    groups = [row.group for row in whole.rows if row.group]
    assert whole.rows[0].group
    # Each heading stands once: what is under it stands together.
    assert len(groups) == len(set(groups))


def test_gaps_of_one_kind_are_one_sentence_with_the_list_behind_it(story: Told, client: Client) -> None:
    """Two hulls have no foam on record; what only one lacks stays a sentence of its own."""
    asked = "/scope/?q=holds%3DF-118"
    lacks = "T430-01 has no record of its layer “foam”. It may hold what is asked about."
    first = f"{story.hulls['no foam']}: {lacks}"
    assert first in client.get(asked).context["page"].gaps
    story.plant.go_on()
    second = f"{story.plant.kayak(foam=None)}: {lacks}"
    answer = client.get(asked)
    [group] = [gap for gap in answer.context["page"].gaps if isinstance(gap, GapGroup) and "layer" in gap.said]
    assert group.said == "2 hulls: powder of a layer not recorded. What is asked about may be in it."
    assert set(group.lines) == {first, second}
    assert f"<summary>{group.said}</summary>" in answer.content.decode()
    # Nothing is left out: each sentence of the answer stands in a line.
    shown = answer.context["page"].gaps
    told = [line for gap in shown for line in (gap.lines if isinstance(gap, GapGroup) else (gap,))]
    assert [gap.said for gap in shared_by(Holds("F-118")).gaps if not any(gap.said in line for line in told)] == []


def test_positions_that_one_thing_lacks_are_named_together(story: Told) -> None:
    load = str(Unit.objects.filter(kind="load").order_by("id")[0].uid)
    gaps = [
        Admitted("insert", name, "L-1", load, "", f"L-1 has no record of its insert “{name}”.")
        for name in ("S1", "S10", "S2", "S3", "S9")
    ]
    [said] = grouped_gaps(gaps, timezone.now())
    assert said == f"{story.hulls['gone']}: L-1 has no record of its insert “S1–S3, S9, S10”."


def test_a_hull_of_the_list_is_of_the_past_only_where_a_day_was_asked_for(client: Client) -> None:
    for day, past in (("", False), ("&as_known_on=2026-05-01", True)):
        page = client.get(f"/scope/?q=holds%3DN-0417{day}").context["page"]
        assert page.rows and all(("as_known_on" in row.url) == past for row in page.rows)
