"""The pages of complaints and cases: taken with half a plate, looked into, and what each person sees of them."""

import re
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image

from tests.cast import rows_of
from tests.pages.story import Told
from trace.codes import uuid7
from trace.genealogy.causes import read_cause
from trace.genealogy.containment import walks
from trace.genealogy.sharing import shared_by
from trace.pages.open_lists.view import counts
from trace.recording.acts.containment import BeginContainment, SeeHull
from trace.recording.acts.owners import RegisterOwner
from trace.recording.acts.packing import Pack
from trace.recording.acts.scope_holds import HoldScope
from trace.recording.answers import Answer
from trace.recording.commands import By
from trace.recording.record import record

LEAD, QUALITY, DEPUTY, AUDITOR, OPERATOR = "P-03", "P-06", "P-10", "P-08", "P-01"
BUYER = {"buyer": "Wilf Heron", "contact": "wilf@example.org", "story": "It cracked when Oona sat down."}


@pytest.fixture(autouse=True)
def photo_folder(settings: Any, tmp_path: object) -> None:
    settings.PHOTO_FOLDER = tmp_path


def sent(client: Client, address: str, **fields: Any) -> Any:
    return client.post(address, {"scan_id": str(uuid7()), **fields})


def taken(client: Client, **fields: Any) -> str:
    """The address of a complaint that was kept."""
    answer = sent(client, "/complaint/take/", **fields)
    assert answer.status_code == 302, answer.content.decode()[:600]
    return str(answer["Location"])


def page(client: Client, address: str) -> Any:
    answer = client.get(address)
    assert answer.status_code == 200, address
    return answer.context["page"]


def done(client: Client, address: str, do: str, **fields: Any) -> str:
    """What was done in a case or with a complaint; where it leads."""
    answer = sent(client, address, do=do, **fields)
    assert answer.status_code == 302, answer.context["page"].error
    return str(answer["Location"])


def test_half_a_plate_offers_hulls_and_the_drawing_of_the_one_chosen(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    client, serial = signed_in(LEAD), story.hulls["held"]
    shown = page(client, f"/complaint/take/?q={serial[:-2]}?{serial[-1]}")
    [one] = [c for c in shown.candidates if c.line.name == serial]
    assert shown.plan is None and shown.hull == ""
    chosen = page(client, one.url.partition("#")[0])
    assert chosen.hull == serial and "Tamsin 430" in chosen.hull_words
    assert {spot.name for spot in chosen.spots} >= {"S5", "PORT", "Z1"}
    assert {spot.name: spot.words for spot in chosen.spots}["S5"] == "insert M8-N"
    html = client.get(one.url.partition("#")[0]).content.decode()
    assert 'data-spot="S5"' in html and 'value="S5"' in html
    # A hull that nobody has: nothing is offered, and it can be taken all the same.
    assert page(client, "/complaint/take/?q=ZZ9").candidates == ()


def test_taken_without_a_hull_everything_that_is_not_known_is_missing(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    quality = signed_in(QUALITY)
    at = taken(quality, plate="ghm-t430-00?4", product="T430", sold="last may", hours="61,5")
    shown = page(quality, at)
    facts = {fact.name: fact.text for fact in shown.facts}
    assert (facts["On the plate"], facts["In use"], facts["Sold"]) == ("GHM-T430-00?4", "61.5 h", "")
    assert shown.words[2].text == "sold: last may"
    assert "Its hull is not known." in shown.gaps and "When it was sold is not known." in shown.gaps
    assert quality.get(at).content.decode().count("not told") >= 4


def test_pictures_are_kept_with_it_and_what_is_none_is_said(story: Told, signed_in: Callable[[str], Client]) -> None:
    client, picture = signed_in(QUALITY), BytesIO()
    Image.new("RGB", (40, 30), "white").save(picture, "JPEG")
    two = [SimpleUploadedFile(f"{n}.jpg", picture.getvalue(), "image/jpeg") for n in range(2)]
    refused = sent(client, "/complaint/take/", photos=[*two, SimpleUploadedFile("x.jpg", b"none")], story="kept")
    assert refused.status_code == 409
    assert refused.context["page"].typed["story"] == "kept"
    assert rows_of("SELECT count(*) FROM complaint") == [(0,)]
    for file in two:
        file.seek(0)
    shown = page(client, taken(client, photos=two))
    # The same picture twice is one.
    assert len(shown.photos) == 2
    answer = client.get(shown.photos[0])
    assert answer["Content-Type"] == "image/jpeg"
    assert Image.open(BytesIO(b"".join(answer))).size == (40, 30)
    assert client.get(shown.photos[0].replace("photo/1", "photo/9")).status_code == 404
    assert signed_in(OPERATOR).get(shown.photos[0]).status_code == 403


def test_a_lead_takes_quality_reads_the_words_the_auditor_does_not(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    at = taken(signed_in(LEAD), hull=story.hulls["gone"], symptom="warp", **BUYER)
    number = at.strip("/").split("/")[-1]
    words = tuple(BUYER.values())
    for key, sees in ((QUALITY, True), (DEPUTY, True), (LEAD, False), (AUDITOR, False)):
        html = signed_in(key).get(at).content.decode()
        assert all((word in html) == sees for word in words), key
        assert story.hulls["gone"] in html
    for key in (LEAD, AUDITOR):
        assert sent(signed_in(key), at, do="close", cause="use").status_code == 403
    assert signed_in(OPERATOR).get(at).status_code == 403
    # Everybody sees on the hull's sheet that there is one, and nobody there who told it.
    for key in (OPERATOR, QUALITY):
        answer = signed_in(key).get(f"/hull/{story.hulls['gone']}/")
        [one] = answer.context["complaints"]
        assert (one.said, one.open, bool(one.url)) == ("warped", True, key == QUALITY)
        assert not [word for word in words if word in answer.content.decode()]
        assert f"Complaint {number}: warped" in answer.content.decode()
    assert signed_in(QUALITY).get(f"/hull/{story.hulls['held']}/").context["complaints"] == ()


def test_its_hull_is_found_later_put_right_and_its_words_erased(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    client, serial = signed_in(QUALITY), story.hulls["held"]
    at = taken(client, plate=serial[:-1] + "?", product="T430", **BUYER)
    assert serial in [line.name for line in page(client, at).candidates]
    done(client, at, "tie", hull=serial)
    assert page(client, at).hull == serial
    wrong = sent(client, at, do="tie", hull=story.hulls["gone"])
    assert wrong.status_code == 409 and "reason is missing" in wrong.context["page"].error
    done(client, at, "tie", hull=story.hulls["gone"], reason="the photo")
    assert (page(client, at).hull, page(client, f"{at}?q={serial}").candidates[0].name) == (
        story.hulls["gone"], serial,
    )  # fmt: skip
    done(client, at, "erase", reason="the buyer asked")
    shown = page(client, at)
    assert {fact.text for fact in shown.words} == {"(words erased)"}
    assert "closed" not in shown.state
    done(client, at, "close", cause="use", hull_found="found", reason="fell off the roof")
    assert page(client, at).state.startswith("closed, cause: use")


def test_from_a_complaint_to_a_hold_that_packing_refuses(story: Told, signed_in: Callable[[str], Client]) -> None:
    """Suspect, scope, hold, test, decision, telling, close; counted on the lists of what is open."""
    client = signed_in(QUALITY)
    at = taken(client, hull=story.hulls["gone"], symptom="crack at insert", spot="S5", sold="2026-04-20")
    assert counts(["cases"])["cases"] == (0, None)
    case = done(client, at, "open_case", name="crack at seat", complaint=at.strip("/").split("/")[-1])
    assert (counts(["complaints"])["complaints"][0], counts(["cases"])["cases"][0]) == (1, 1)
    shown = page(client, case)
    assert shown.name == "crack at seat" and [c.number for c in shown.complaints] == [1]
    # What its hull holds is offered.
    assert dict(shown.lots)["holds=N-0398"] == "M8-N lot N-0398, in 1 of 1"
    done(client, case, "suspect", cause="holds=N-0398", reason="cracks at its thread")
    done(client, case, "scope", cause="holds=N-0398")
    [scope] = page(client, case).scopes
    answer = shared_by(read_cause(["holds=N-0398"]))
    assert (scope.certain, scope.may) == (answer.count("certain"), answer.count("may"))
    assert answer.count("certain") > 0
    done(client, case, "hold", code="N-0398", cause="holds=N-0398", reason="copper")
    [hold] = page(client, case).holds
    assert hold.on == "M8-N lot N-0398" and hold.reason == "copper" and "stopped here" in hold.stops
    packed: Answer = record(
        Pack(order="SO-220", hulls=(story.hulls["bag change"],)), By(person="P-07", station="pack")
    )
    assert (packed.outcome, packed.code) == ("refused", "PACK-HELD")
    done(client, case, "test", what="finish of an insert", result="no nickel", by_whom="a laboratory")
    done(client, case, "decide", reason="all of the lot is fetched back")
    done(client, case, "tell", consignee="WHARFE", day="2026-06-10", way="telephone", answer="they look")
    done(client, case, "suspect", cause="holds=N-0398", stands="shown", reason="section at S5")
    shown = page(client, case)
    [suspect] = shown.suspects
    assert (suspect.stands, suspect.reason, suspect.code) == ("shown", "section at S5", "N-0398")
    assert (shown.tests[0].result, shown.decisions[0].text) == ("no nickel", "all of the lot is fetched back")
    [telling] = shown.tellings
    assert (telling.text, telling.how, telling.answer) == (
        "Wharfe & Weir Paddlesport", "by telephone, 10 Jun 2026", "they look",
    )  # fmt: skip
    refused = sent(client, case, do="close", closing_cause="insert", reason="shown")
    assert refused.status_code == 409 and "whether the hull was found" in refused.context["page"].error
    done(client, case, "close", closing_cause="insert", hulls="found", reason="shown at the section")
    assert (counts(["complaints"])["complaints"][0], counts(["cases"])["cases"][0]) == (0, 0)
    assert page(client, case).state == "closed"
    done(client, case, "reopen", reason="another came in")
    assert page(client, case).open
    lines = [line.what for line in page(client, case).history]
    assert lines[0] == "Case 1 opened" and lines[-1] == "Opened again: another came in"


def test_a_kept_scope_is_asked_again_and_compared(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    client = signed_in(QUALITY)
    case = sent(client, "/cases/", name="inserts").headers["Location"]
    done(client, case, "scope", cause="holds=N-0398")
    address = page(client, case).scopes[0].again_url.partition("#")[0]
    again = page(client, address).again
    assert again.as_kept and again.changed == () and again.then.counts == again.now.counts
    monkeypatch.setattr(story.plant.clock, "now", timezone.now() + timedelta(minutes=1))
    story.plant.go_on()
    new = story.plant.kayak(bag=7)
    again = page(client, address).again
    assert again.as_kept
    assert [(hull.code, hull.then, hull.now) for hull in again.changed] == [(new, "", "certain")]
    assert again.now.counts["certain"] == again.then.counts["certain"] + 1


def test_a_case_as_known_on_a_day_says_what_was_known_then(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(QUALITY)
    case = sent(client, "/cases/", name="warp").headers["Location"]
    done(client, case, "decide", reason="wait")
    [(first, last)] = rows_of("SELECT min(recorded), max(recorded) FROM event WHERE kind LIKE 'case%%'")
    then, later = (page(client, f"{case}?{urlencode({'as_known_on': at.isoformat()})}") for at in (first, last))
    assert then.decisions == () and not then.may
    assert [decision.text for decision in later.decisions] == ["wait"]
    assert client.get("/case/9/").status_code == client.get("/complaint/9/").status_code == 404


def test_one_question_leads_to_the_scope_another_cannot_be_read(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    client = signed_in(DEPUTY)
    case = sent(client, "/cases/", name="warp").headers["Location"]
    done(client, case, "suspect", cause="mould=T430-01 and (arm=S1 or arm=S2)")
    [one] = page(client, case).suspects
    assert one.words == "mould=T430-01 and ( arm=S1 or arm=S2 )" and one.code == ""
    assert one.scope_url.startswith("/scope/?q=mould%3DT430-01&q=and")
    assert client.get(one.scope_url).status_code == 200
    for do, cause in (("suspect", "colour"), ("scope", "colour"), ("scope", "mould=NONE")):
        wrong = sent(client, case, do=do, cause=cause)
        assert wrong.status_code == 409 and wrong.context["page"].error
    assert sent(client, "/cases/", name="").status_code == 409
    assert sent(client, case, do="dance").status_code == 400


def test_other_systems_read_them_without_a_name_or_a_word(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(QUALITY)
    taken(client, hull=story.hulls["gone"], symptom="warp", sold="2026-04-20", **BUYER)
    taken(client, plate="T430-00?4", product="T430")
    case = sent(client, "/cases/", name="Heron's boats", complaint=["1", "2"]).headers["Location"]
    done(client, case, "scope", cause="mould=T430-01")
    done(client, case, "suspect", cause="mould=T430-01")
    done(client, case, "close", closing_cause="none found", hulls="not found", reason="Heron sold it")
    answers = {what: signed_in(AUDITOR).get(f"/api/{what}/") for what in ("complaints", "cases")}
    first, second = answers["complaints"].json()
    assert (first["hull"], first["sold"], first["failed"], first["case"], first["open"]) == (
        story.hulls["gone"], "2026-04-20", None, 1, False,
    )  # fmt: skip
    assert (second["hull"], second["plate"], second["product"]) == (None, "T430-00?4", "T430")
    [one] = answers["cases"].json()
    assert one["complaints"] == [1, 2] and one["closed"] == {"cause": "none found", "hulls": "not found"}
    assert one["suspects"] == [{"cause": ["mould=T430-01"], "stands": "suspected"}]
    assert one["scopes"][0]["certain"] == shared_by(read_cause(["mould=T430-01"])).count("certain")
    described = signed_in(AUDITOR).get("/api/schema/").content.decode()
    for answer in answers.values():
        assert "Heron" not in answer.content.decode()
        assert [name for name in answer.json()[0] if f"{name}:" not in described] == []
    assert signed_in(LEAD).get("/api/cases/").status_code == 403
    # As known before any of it was told.
    assert signed_in(AUDITOR).get("/api/complaints/?as_known_on=2026-06-01").json() == []
    assert signed_in(AUDITOR).get("/api/cases/?as_known_on=soon").status_code == 400


def test_a_case_leads_on_to_the_walk_and_the_recall(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(QUALITY)
    case = sent(client, "/cases/", name="inserts").headers["Location"]
    done(client, case, "suspect", cause="holds=N-0398")
    done(client, case, "hold", code="N-0398", cause="holds=N-0398", reason="copper")
    # A hold on all that shares a suspect stands beside it.
    done(client, case, "suspect", cause="mould=T430-02")
    assert page(client, case).suspects[1].held == ""
    story.plant.scan(HoldScope(cause=("mould=T430-02",), reason="after its repair"), person=DEPUTY)
    assert "on hold since" in page(client, case).suspects[1].held
    # With one press from the case, and then it stands among the case's holds.
    done(client, case, "suspect", cause="model=T430")
    done(client, case, "hold-scope", cause="model=T430", reason="its thermocouple drifts")
    shared = page(client, case)
    assert "on hold since" in shared.suspects[2].held
    # Both holds on scopes stand among the case's, also the one that was laid elsewhere; who had left is said.
    by_reason = {hold.reason: hold for hold in shared.holds}
    assert set(by_reason) == {"copper", "after its repair", "its thermocouple drifts"}
    second = by_reason["its thermocouple drifts"]
    assert second.on == "all hulls that are of model T430"
    assert "; 1 had left when it was laid, and no hold reaches them" in second.stops
    # One that was laid at its station is said to belong to it.
    [*elsewhere] = page(client, case).laid_elsewhere
    [uid] = [uid for uid, words in elsewhere if "Pull-out torque query" in words]
    done(client, case, "link", hold=uid)
    shown = page(client, case)
    assert {hold.reason for hold in shown.holds} >= {"Pull-out torque query", "copper"}
    assert uid not in dict(shown.laid_elsewhere)
    assert shown.common_url == ""
    done(client, taken(client, hull=story.hulls["gone"]), "group", case="1")
    shared = page(client, case).common_url
    assert shared.endswith(f"?bad={story.hulls['gone']}")
    ways = (
        shown.holds[0].walk_url, second.walk_url, second.url, shown.suspects[0].recall_url, shown.suspects[0].scope_url,
        f"{shared}&sold=no",
    )  # fmt: skip
    for address in ways:
        assert client.get(address).status_code == 200


def test_a_sale_in_the_register_of_owners_is_known_to_the_complaint(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    client = signed_in(QUALITY)
    address = taken(client, hull=story.hulls["gone"], sold="")
    assert any("sold" in gap for gap in client.get(address).context["page"].gaps)
    story.plant.scan(RegisterOwner(hull=story.hulls["gone"], sold="2026-05-02"), person=QUALITY)
    page_ = client.get(address).context["page"]
    assert not any("sold" in gap for gap in page_.gaps)
    assert "2 May 2026" in {fact.text for fact in page_.facts}
    # What was told with the complaint stands before it.
    told_too = client.get(taken(client, hull=story.hulls["gone"], sold="2026-04-20")).context["page"]
    assert "20 Apr 2026" in {fact.text for fact in told_too.facts}


def test_complaints_in_no_case_say_hull_day_and_dealer(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(QUALITY)
    taken(client, hull=story.hulls["gone"], reported="2026-06-02", through="WHARFE")
    [line] = client.get("/cases/").context["page"].loose
    assert line.detail == f"{story.hulls['gone']} red · told 2 Jun 2026 · through Wharfe & Weir Paddlesport"


def test_a_case_asks_what_its_hulls_share(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(QUALITY)
    case = sent(client, "/cases/", name="crack").headers["Location"]
    assert page(client, case).common_url == ""
    done(client, taken(client, hull=story.hulls["held"]), "group", case="1")
    url = page(client, case).common_url
    assert parse_qs(urlsplit(url).query) == {"bad": [story.hulls["held"]]}
    assert client.get(url).status_code == 200


def test_more_complaints_ask_few_statements_more(story: Told, signed_in: Callable[[str], Client]) -> None:
    """One walk back a hull, and nothing else a complaint."""
    client = signed_in(QUALITY)
    numbers = [taken(client, hull=story.hulls["gone"]).strip("/").split("/")[-1]]
    case = sent(client, "/cases/", name="warp", complaint=numbers).headers["Location"]

    def asked() -> int:
        page(client, case)
        with CaptureQueriesContext(connection) as queries:
            page(client, case)
        return len(queries)

    before = asked()
    for name in ("held", "sled", "bag change"):
        done(client, taken(client, hull=story.hulls[name]), "group", case="1")
    assert asked() - before == 3


def test_complaints_of_one_symptom_are_ticked_together(signed_in: Callable[[str], Client], story: Told) -> None:
    client = signed_in(QUALITY)
    for symptom in ("warp", "pinholes", "warp"):
        taken(client, symptom=symptom, hull=story.hulls["sled"] if symptom == "pinholes" else "")
    every = page(client, "/cases/")
    assert [(one.said, one.count) for one in every.kinds] == [("warped", 2), ("pinholes or blow-holes", 1)]
    assert not any(one.ticked for one in every.loose)
    warped = page(client, every.kinds[0].url)
    assert [one.ticked for one in warped.loose] == [True, True]
    # What was ticked stays so where the case was not opened.
    again = sent(client, "/cases/", name="", complaint=["2"])
    assert [one.number for one in again.context["page"].loose if one.ticked] == [2]
    # The list of complaints is looked through by the words on the page, by the plate, and by symptom.
    for asked, found in {"q=blow-holes": ["complaint 2"], f"q={story.hulls['sled']}": ["complaint 2"],
                         "kind=warp&order=newest": ["complaint 3", "complaint 1"]}.items():  # fmt: skip
        assert [line.codes[0][0] for line in page(client, f"/open/complaints/?{asked}").lines] == found
    case = sent(client, "/cases/", name="Warped in June", complaint=["1", "3"]).headers["Location"]
    assert case == "/case/1/"
    for asked in ("q=june", "kind=warp", "q=case+1"):
        assert [line.amount for line in page(client, f"/open/cases/?{asked}").lines] == ["2 complaints"]
    assert page(client, "/open/cases/?q=pinholes").lines == ()


def test_a_case_counts_its_walks_as_they_go_and_names_who_put_what_is_not_found(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    """A walk over a hold of the case, one over the list of its suspect; another hold's is not the case's."""
    client, plant = signed_in(QUALITY), story.plant
    case = sent(client, "/cases/", name="inserts").headers["Location"]
    done(client, case, "suspect", cause="holds=N-0417")
    assert page(client, case).walks == ()
    assert "none was begun" in client.get(case).content.decode()
    other = plant.hold(story.hulls["sled"])
    for hold in (other, story.hold):
        plant.scan(BeginContainment(hold=hold), person=QUALITY)
    assert page(client, case).walks == ()
    done(client, case, "link", hold=story.hold)
    [walk] = page(client, case).walks
    assert walk.title == "under the hold on M8-N lot N-0417: Pull-out torque query"
    assert ([n for _word, n in walk.total.counts], walk.total.missing, walk.ended) == ([0, 0, 0, 0], 4, None)
    [racked] = [line for line in walk.missing if line.code == story.hulls["held"]]
    assert (racked.place, racked.who) == ("Rack R4, level 2", "Jonty Blewitt")
    html = client.get(case).content.decode()
    assert "data-live" in html and "live.js" in html
    # Seen on the floor, counted here.
    [uid] = [one.uid for one in walks() if one.hold == story.hold]
    plant.scan(SeeHull(walk=uid, place="R4-2", hull=story.hulls["held"], result="tagged"), person="P-07")
    [walk] = page(client, case).walks
    assert ([n for _word, n in walk.total.counts], walk.total.missing) == ([0, 1, 0, 0], 3)
    assert story.hulls["held"] not in [line.code for line in walk.missing]
    # The page of the walk says the same.
    assert page(client, walk.url).total == walk.total
    # Over the list of a suspect, begun where its question leads; as known before, there was none.
    asked = {"q": ["holds=N-0417"]}
    assert sent(client, "/containment/", **asked).status_code == 302
    assert page(client, case).walks[0].title == "that hold something of N-0417"
    [(before,)] = rows_of("SELECT max(recorded) FROM event WHERE kind = 'case_held'")
    then = page(client, f"{case}?{urlencode({'as_known_on': before.isoformat()})}")
    assert [one.title for one in then.walks] == [walk.title]
    assert not then.now and "as_known_on" in then.walks[0].url


def test_a_mock_recall_is_begun_from_a_suspect_lot_and_stands_in_the_case(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    client = signed_in(QUALITY)
    case = sent(client, "/cases/", name="inserts").headers["Location"]
    done(client, taken(client, hull=story.hulls["gone"]), "group", case="1")
    done(client, case, "suspect", cause="arm=S1")
    done(client, case, "suspect", cause="holds=N-0398")
    arm, lot = page(client, case).suspects
    assert arm.drill_url == "" and page(client, case).drills == ()
    begun = page(client, lot.drill_url)
    assert (begun.lot, begun.hull) == ("N-0398", story.hulls["gone"])
    for number in ("V-2288", begun.lot):
        at = sent(client, "/drill/", lot=number, hull=begun.hull).headers["Location"]
    [one] = page(client, case).drills
    assert (one.url, one.minutes) == (at, None)
    assert "not signed" in client.get(case).content.decode()
    assert signed_in(AUDITOR).get(case).context["page"].drills == (one,)


def test_no_two_buttons_or_links_to_different_places_read_the_same(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    """With two suspects on one lot and two holds: who hears the page's ways one after the other tells them apart."""
    client = signed_in(QUALITY)
    case = sent(client, "/cases/", name="inserts").headers["Location"]
    done(client, taken(client, hull=story.hulls["gone"]), "group", case="1")
    for cause in ("holds=N-0417", "holds=N-0417 in=S1", "arm=S1"):
        done(client, case, "suspect", cause=cause)
    for hold in (story.hold, story.plant.hold(story.hulls["sled"])):
        done(client, case, "link", hold=hold)
    html = client.get(case).content.decode().partition("<main")[2].partition("</main>")[0]
    named: dict[str, set[str]] = {}
    for n, (tag, rest, inside) in enumerate(re.findall(r"<(button|a)\b([^>]*)>(.*?)</(?:button|a)>", html, re.DOTALL)):
        words = " ".join(re.sub(r"<[^>]*>", "", inside).split())
        target = re.search(r'href="([^"]*)"', rest)
        named.setdefault(words, set()).add(target[1] if tag == "a" and target else f"button {n}")
    assert {words: to for words, to in named.items() if len(to) > 1} == {}
