"""The page of holds on a scope: previewed, laid, let go in part, ended; who may not is told no."""

import re
from collections.abc import Callable
from datetime import timedelta
from urllib.parse import urlencode

import pytest
from django.test import Client
from django.utils import timezone

from tests.cast import rows_of
from tests.pages.story import Told
from trace.codes import uuid7
from trace.pages.open_lists.holds import lines as open_lines
from trace.pages.scope_holds import Preview
from trace.recording.acts.holds import Hold
from trace.recording.acts.packing import Pack
from trace.recording.acts.scope_holds import under
from trace.recording.asking_scopes import last_asked
from trace.recording.floor.scopes_on_hold import live_scopes
from trace.speech import speak

WORDS = ["model=T430", "and", "not", "mould=B60-01"]


@pytest.fixture
def quality(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("P-06")


def test_it_is_previewed_laid_let_go_in_part_and_ended(quality: Client, signed_in: Callable[[str], Client]) -> None:
    page = quality.get(f"/scope/?{urlencode([('q', word) for word in WORDS])}").context["page"]
    counts = page.counts
    assert page.preview.here + page.preview.gone == counts["certain"] + counts["may"] > 0
    sent = {"q": WORDS, "reason": "cracks at the keel", "scan_id": page.preview.scan_id}
    before = len(live_scopes())
    assert quality.post("/scope/holds/", sent).status_code == 302
    assert quality.post("/scope/holds/", sent).status_code == 302  # sent twice counts once
    assert len(live_scopes()) == before + 1
    scope = live_scopes()[-1]
    assert (scope.words, scope.person) == (tuple(WORDS), "P-06")
    assert len(under(scope.number)) == page.preview.here
    # Beside the other holds it is one line, not one for each of its hulls.
    lines = [line for line in open_lines(0, 100) if f"scope {scope.number}" in line.what]
    assert [(line.amount, line.do_url) for line in lines] == [(f"{page.preview.here} hulls", "/scope/holds/")]
    text = quality.get("/scope/holds/").content.decode()
    assert f"Scope {scope.number}: hulls that are of model T430 and were not made in mould B60-01" in text
    assert "cracks" in str(rows_of("SELECT text FROM note"))
    lead = signed_in("P-10")
    one = under(scope.number)[0]
    answer = lead.post("/scope/holds/", {"number": scope.number, "hull": one, "reason": "", "scan_id": str(uuid7())})
    assert answer.status_code == 409
    assert "The reason is missing." in answer.content.decode()
    lead.post("/scope/holds/", {"number": scope.number, "hull": one, "reason": "sound", "scan_id": str(uuid7())})
    assert one not in under(scope.number)
    assert "asked last" in text and "by Priya Ashdown." in text
    lead.post("/scope/holds/", {"number": scope.number, "do": "again", "scan_id": str(uuid7())})
    assert last_asked([scope.number])[scope.number].by == "P-10"
    assert one not in under(scope.number)
    lead.post("/scope/holds/", {"number": scope.number, "do": "end", "reason": "over", "scan_id": str(uuid7())})
    assert scope.number not in {other.number for other in live_scopes()}
    assert under(scope.number) == []


def test_a_record_by_its_number_is_called_by_its_name_and_asked_as_known_now_to_hold_it(quality: Client) -> None:
    lot = str(rows_of("SELECT uid::text FROM unit WHERE kind = 'lot' AND lot_no = 'V-2288'")[0][0])
    asked = {"q": f"holds={lot}", "as_known_on": "2026-06-09T12:00"}
    page = quality.get("/scope/", asked).context["page"]
    assert page.title == "hold something of LL-35 red lot V-2288"
    assert not any(lot in f"{row.why}" for row in page.rows) and not any(lot in one.name for one in page.amounts)
    assert page.now_url == f"/scope/?{urlencode({'q': asked['q']})}"
    now = quality.get(page.now_url).context["page"]
    assert now.preview is not None and now.now_url == ""
    sent = {"q": asked["q"], "reason": "brittle", "scan_id": now.preview.scan_id}
    assert quality.post("/scope/holds/", sent).status_code == 302
    number = live_scopes()[-1].number
    held = quality.get(f"/hull/{next(row.code for row in now.rows if row.verdict == 'certain')}/").content.decode()
    assert f"it shares scope {number}, which is on hold, or may" in held and "no reason given" not in held


def test_what_a_lot_has_in_stock_is_said(quality: Client) -> None:
    page = quality.get("/scope/", {"q": "holds=V-2288"}).context["page"]
    stock = {number: kg for _uid, number, kg in page.preview.stock}
    assert not stock or re.fullmatch(r"[0-9]+\.[0-9]{3}", stock["V-2288"])
    assert quality.get("/scope/", {"q": "holds=N-0417", "as_known_on": "2026-06-09"}).context["page"].preview is None


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ({"q": "luck=bad", "reason": "x"}, 400), ({"q": "holds=nobody", "reason": "x"}, 404), ({"number": "1"}, 400),
        ({"number": "99", "do": "end", "reason": "x"}, 409), ({"q": "arm=S2", "reason": ""}, 409),
        ({"number": "x", "do": "end", "reason": "x"}, 409),
    ],
)
def test_what_cannot_be_done_is_said(quality: Client, sent: dict[str, str], status: int) -> None:
    assert quality.post("/scope/holds/", {**sent, "scan_id": str(uuid7())}).status_code == status
    assert quality.post("/scope/holds/", sent).status_code in (400, 404)


def test_who_may_not_is_told_no(signed_in: Callable[[str], Client]) -> None:
    auditor = signed_in("P-08")
    assert auditor.get("/scope/holds/").status_code == 200
    assert auditor.get("/scope/", {"q": "arm=S2"}).context["page"].preview is None
    assert auditor.post("/scope/holds/", {"q": "arm=S2", "reason": "x", "scan_id": str(uuid7())}).status_code == 403


def test_the_lots_in_stock_are_held_with_the_same_press(quality: Client) -> None:
    """What the cause rules out is not offered, and what is not ticked is left alone."""
    def asked(*words: str) -> Preview:
        found = quality.get("/scope/", {"q": list(words)}).context["page"].preview
        assert isinstance(found, Preview)
        return found

    assert asked("model=T430", "and", "not", "holds=V-2310").stock == ()
    assert {number for _uid, number, _kg in asked("certificate:mfi=3.2").stock} >= {"V-2288"}
    assert asked("certificate:mfi=99..").stock == ()
    shown = asked("supplier=DUNSAY")
    assert {number for _uid, number, _kg in shown.stock} >= {"D-77", "F-121"}
    [uid] = [uid for uid, number, _kg in shown.stock if number == "F-121"]
    sent = {"q": "supplier=DUNSAY", "reason": "off grade", "lot": uid, "scan_id": shown.scan_id}
    for _twice in range(2):
        assert quality.post("/scope/holds/", sent).status_code == 302
    held = rows_of("SELECT u.lot_no FROM hold h JOIN unit u ON u.id = h.unit WHERE u.uid::text = %s", uid)
    assert held == [("F-121",)]
    under_it = "SELECT count(*) FROM unit_hold h JOIN unit u ON u.id = h.unit WHERE u.about->>'lot' = %s"
    assert rows_of(under_it, uid)[0][0] > 0


def lay(client: Client, *words: str, **more: object) -> int:
    """A hold on a scope laid from the page of its question; its number."""
    shown = client.get("/scope/", {"q": list(words)}).context["page"].preview
    sent = {"q": list(words), "reason": "off grade", "scan_id": shown.scan_id, **more}
    assert client.post("/scope/holds/", sent).status_code == 302
    return live_scopes()[-1].number


def test_ending_it_says_what_of_its_lots_own_holds_stays_and_ends_those_that_are_ticked(
    quality: Client, signed_in: Callable[[str], Client], story: Told
) -> None:
    shown = quality.get("/scope/?q=supplier%3DDUNSAY").context["page"].preview
    stock = {number: uid for uid, number, _kg in shown.stock}
    number = lay(quality, "supplier=DUNSAY", lot=[stock["D-77"], stock["F-121"]])
    # One more, laid by who will end the scope's: that is for somebody else to end.
    own = story.plant.scan(Hold(code=stock["F-118"], rule="quality", reason="caked"), person="P-10").made["holds"][0]
    deputy = signed_in("P-10")
    [held] = deputy.get("/scope/holds/").context["page"].holds
    assert {one.lot for one in held.lots} == {"D-77", "F-118", "F-121"}
    by_lot = {one.lot: one for one in held.lots}
    assert (by_lot["D-77"].why, by_lot["D-77"].who) == ("off grade", "Priya Ashdown")
    sent = {
        "number": number, "do": "end", "reason": "tested", "scan_id": str(uuid7()),
        "lot_hold": [by_lot["D-77"].uid, own],
    }  # fmt: skip
    answer = deputy.post("/scope/holds/", sent)
    assert answer.status_code == 409
    page = answer.context["page"]
    assert page.error.startswith("F-118: You laid this hold")
    assert {one.lot for one in page.ended.lots} == {"F-118", "F-121"} and page.holds == ()
    assert deputy.post("/scope/holds/", sent).status_code == 409, "sent twice counts once"
    assert rows_of("SELECT count(*) FROM event WHERE kind = 'hold_released'") == [(1,)]
    page = deputy.get(f"/scope/holds/?ended={number}").context["page"]
    assert [one.lot for one in page.ended.lots] == ["F-121", "F-118"]
    form = deputy.get(page.ended.lots[0].end_url.partition("#")[0]).context["page"].form
    assert form is not None and "F-121" in form.about
    auditor = signed_in("P-08").get(f"/scope/holds/?ended={number}").context["page"]
    assert [one.end_url for one in auditor.ended.lots] == ["", ""]
    for nothing in ("", "x", "99", "-1"):
        assert quality.get(f"/scope/holds/?ended={nothing}").context["page"].ended is None


def test_a_hull_says_which_scope_it_shares_and_why_that_is_on_hold(
    quality: Client, story: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(story.plant.clock, "now", timezone.now() + timedelta(minutes=1))
    story.plant.go_on()
    hull = story.plant.kayak(bag=7)
    number = lay(quality, "holds=N-0398")
    said = f"it shares scope {number}, which is on hold, or may: hulls that hold something of N-0398; off grade"
    assert said in quality.get(f"/hull/{hull}/").content.decode()
    pack = Pack(order="SO-221", hulls=(hull,))
    refused = story.plant.scan(pack, person="P-07", expect="PACK-HELD")
    assert said in speak(f"{refused.what} {refused.why}")
    # The same where a hull's own hold stands for it: in a case, and by its own address.
    [hold] = rows_of("SELECT uid::text FROM hold WHERE rule = %s ORDER BY id LIMIT 1", f"scope {number}")[0]
    case = quality.post("/cases/", {"name": "seats", "scan_id": str(uuid7())}).headers["Location"]
    quality.post(case, {"do": "link", "hold": hold, "scan_id": str(uuid7())})
    [line] = quality.get(case).context["page"].holds
    assert (line.on, line.reason) == ("all hulls that hold something of N-0398", "off grade")
    [found] = quality.get(f"/search/?q={hull}").context["search"].found
    assert (found.held, found.why) == (True, said)
