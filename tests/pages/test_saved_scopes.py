"""The page of a saved scope: saved where it is asked, listed, compared with today, put aside; the same over the API."""

from collections.abc import Callable
from datetime import timedelta
from urllib.parse import urlencode

import pytest
from django.test import Client
from django.utils import timezone

from tests.pages.story import Told
from trace.codes import uuid7
from trace.genealogy.asked_again import digest_of
from trace.genealogy.causes import read_cause
from trace.genealogy.saved_scopes import saved_scope, saved_scopes
from trace.genealogy.sharing import shared_by
from trace.pages.saved_scopes import as_saved
from trace.recording.acts.saved_scopes import SaveScope

QUALITY, LEAD, AUDITOR, DEPUTY = "P-06", "P-03", "P-08", "P-10"
ADDRESS = f"/scope/?{urlencode([('q', 'holds=N-0398')])}"


def saved(client: Client, address: str = ADDRESS, name: str = "seat inserts") -> str:
    """The question of this address saved as it is shown; where it stands then."""
    form = client.get(address).context["page"].save
    sent = client.post(address, {"name": name, "known": form.known, "scan_id": form.scan_id})
    assert sent.status_code == 302, sent.context["page"].save
    return sent.headers["Location"]


def test_it_is_saved_where_it_is_asked_and_compared_with_today(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    client = signed_in(QUALITY)
    at = saved(client)
    assert at == "/scope/saved/1/"
    page = client.get(at).context["page"]
    shown = client.get(ADDRESS).context["page"]
    assert (page.name, page.scope.counts) == ("seat inserts", dict(shown.counts))
    assert page.again.as_kept and page.again.changed == ()
    assert b"Its own moment is answered as it was when it was kept." in client.get(at).content
    monkeypatch.setattr(story.plant.clock, "now", timezone.now() + timedelta(minutes=1))
    story.plant.go_on()
    new = story.plant.kayak(bag=7)
    again = client.get(at).context["page"].again
    assert again.as_kept
    assert [(hull.code, hull.how, hull.then, hull.now) for hull in again.changed] == [(new, "new", "", "certain")]
    assert again.changed[0].why and again.now.records > again.then.records
    assert client.get(page.then_url).context["page"].counts == dict(shown.counts)


def test_it_is_saved_as_it_was_shown_though_more_was_recorded_meanwhile(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    client = signed_in(LEAD)
    form = client.get(ADDRESS).context["page"].save
    counts = dict(client.get(ADDRESS).context["page"].counts)
    monkeypatch.setattr(story.plant.clock, "now", timezone.now() + timedelta(minutes=1))
    story.plant.go_on()
    story.plant.kayak(bag=7)
    sent = {"name": "x", "known": form.known, "scan_id": form.scan_id}
    for _twice in range(2):
        assert client.post(ADDRESS, sent).headers["Location"] == "/scope/saved/1/"
    [one] = saved_scopes()
    assert one.counts == counts and one.person == LEAD


def test_the_record_hands_back_the_number_that_it_gave_also_when_it_is_sent_again(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    """Pressed twice, with another one saved by the same person in between."""
    client = signed_in(QUALITY)
    form = client.get(ADDRESS).context["page"].save
    sent = {"name": "first", "known": form.known, "scan_id": form.scan_id}
    assert client.post(ADDRESS, sent).headers["Location"] == "/scope/saved/1/"
    assert saved(client, name="second") == "/scope/saved/2/"
    assert client.post(ADDRESS, sent).headers["Location"] == "/scope/saved/1/"


def test_a_difference_is_said_loudly(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(QUALITY)
    other = digest_of(shared_by(read_cause(["holds=N-0417"])))
    right = as_saved(shared_by(read_cause(["holds=N-0398"])), "forged")
    fields = {**right.said(), "cause": right.cause, "digest": other}
    story.plant.scan(SaveScope(**fields), person=QUALITY)
    text = client.get("/scope/saved/1/").content.decode()
    assert "That moment is not answered as it was when it was kept." in text
    answer = signed_in(AUDITOR).get("/api/scopes/1/").json()
    assert answer["as_saved"] is False


def test_what_is_wrong_is_said_and_nothing_is_lost(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(QUALITY)
    form = client.get(ADDRESS).context["page"].save
    for wrong in ({"name": " "}, {"known": "yesterday"}):
        sent = {"name": "kept words", "known": form.known, "scan_id": str(uuid7()), **wrong}
        answer = client.post(ADDRESS, sent)
        assert answer.status_code == 409
        page = answer.context["page"]
        assert page.save.error and page.save.name == sent["name"] and page.counts
    assert client.post("/scope/", {"name": "x", "known": form.known, "scan_id": str(uuid7())}).status_code == 400
    assert saved_scopes() == []


def test_they_are_listed_looked_through_and_put_aside(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(QUALITY)
    at = [saved(client, name=f"number {n}") for n in (1, 2)]
    lines = client.get("/open/scopes/").context["page"].lines
    assert [line.what for line in lines] == ["number 2", "number 1"]
    assert [line.url for line in lines] == at[::-1]
    assert len(client.get("/open/scopes/?q=n-0398+number+1").context["page"].lines) == 1
    refused = client.post(at[0], {"reason": "", "scan_id": str(uuid7())})
    assert refused.status_code == 409 and "The reason is missing." in refused.content.decode()
    assert client.post(at[0], {"reason": "it was the oven", "scan_id": str(uuid7())}).status_code == 302
    assert [line.what for line in client.get("/open/scopes/").context["page"].lines] == ["number 2"]
    [aside] = client.get("/open/scopes-aside/").context["page"].lines
    assert aside.what == "number 1" and aside.detail.endswith("it was the oven")
    page = client.get(at[0]).context["page"]
    assert page.again.as_kept and not page.may and page.aside_why == "it was the oven"
    assert [one["put_aside"] is None for one in client.get("/api/scopes/").json()] == [False, True]


def test_more_than_a_page_are_all_reached(story: Told, signed_in: Callable[[str], Client]) -> None:
    answer = shared_by(read_cause(["holds=N-0398"]))
    for n in range(53):
        story.plant.scan(as_saved(answer, f"number {n + 1}"), person=QUALITY)
    client, found = signed_in(AUDITOR), []
    for page in ("", "?page=2"):
        found += [line.what for line in client.get(f"/open/scopes/{page}").context["page"].lines]
    assert sorted(found) == sorted(f"number {n + 1}" for n in range(53))
    one = saved_scope(53)
    assert one is not None and client.get("/scope/saved/53/").context["page"].name == "number 53"


def test_who_may_save_and_who_reads(story: Told, signed_in: Callable[[str], Client]) -> None:
    at = saved(signed_in(DEPUTY))
    auditor = signed_in(AUDITOR)
    assert auditor.get(ADDRESS).context["page"].save is None
    assert auditor.post(ADDRESS, {"name": "x"}).status_code == 403
    assert auditor.get(at).status_code == 200 and not auditor.get(at).context["page"].may
    assert auditor.post(at, {"reason": "x"}).status_code == 403
    assert auditor.get("/scope/saved/7/").status_code == 404
    assert auditor.get(f"/scope/saved/{10**12}/").status_code == 404
    assert signed_in("P-07").get(at).status_code == 403
