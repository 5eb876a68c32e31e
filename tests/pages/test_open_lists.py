"""What is open in the plant: lists with all of it in pages, each thing with the codes to find it by."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from plant.access import OPEN_LIST_RIGHTS
from tests.pages.story import Told
from trace.codes import printed, uuid7
from trace.models import Event
from trace.pages.open_lists import cycles, holds, inspections, late, lots, questions
from trace.pages.open_lists.table import OPEN_LISTS
from trace.pages.open_lists.view import counts
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.holds import ReleaseHold
from trace.recording.acts.oven import StartCook
from trace.recording.acts.vessels import ProveEmpty


def test_each_list_has_its_row_of_rights() -> None:
    assert set(OPEN_LISTS) == set(OPEN_LIST_RIGHTS)


def test_a_hold_in_force_is_listed_with_what_it_stops_until_it_ends(story: Told) -> None:
    before = counts(["holds"])["holds"][0]
    new = story.plant.hold(story.hulls["sled"], reason="Scratch")
    assert counts(["holds"])["holds"][0] == before + 1
    [line] = [line for line in holds.lines(0, 50) if "Scratch" in line.what]
    assert line.codes[0] == (story.hulls["sled"], f"/hull/{story.hulls['sled']}/")
    assert (line.amount, line.who, line.stop) == ("1 hull", "Priya Ashdown", True)
    [lot] = [line for line in holds.lines(0, 50) if "Pull-out torque query" in line.what]
    assert lot.codes[0][0] == "M8-N lot N-0417" and lot.codes[0][1].startswith("/lot/")
    story.plant.scan(ReleaseHold(hold=new, code=story.hulls["sled"], reason="Polished"), person="P-10")
    assert counts(["holds"])["holds"][0] == before


def test_a_wide_hold_is_counted_no_further_than_said(story: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(holds, "LOOKED_AT", 3)
    [lot] = [line for line in holds.lines(0, 50) if "Pull-out torque query" in line.what]
    assert lot.amount.endswith("or more")


def test_lots_wait_with_what_they_wait_for(story: Told) -> None:
    before = {line.codes[0][0] for line in lots.lines(0, 50)}
    delivery = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2400", amounts=("100", "50"))
    boxes = story.plant.scan(delivery, person="P-05").made["codes"]
    [line] = [line for line in lots.lines(0, 50) if line.codes[0][0] not in before]
    assert line.codes[0][0] == "V-2400"
    assert {text for text, _url in line.codes[1:]} == {printed(code) for code in boxes}
    assert line.amount == "150.00 kg"
    assert "no certificate recorded" in line.detail


def test_a_cycle_is_open_from_the_oven_to_the_demoulding(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    plant = story.plant
    before = counts(["cycles"])["cycles"][0]
    plant.go_on()
    plant.scan(StartCook(oven="OVEN-2", arm="S1", units=(story.hulls["held"],)), station="oven", person="P-03",
               overrides={"COOK-HELD": "A trial"})  # fmt: skip
    assert counts(["cycles"])["cycles"][0] == before + 1
    [line] = [line for line in cycles.lines(0, 50) if line.codes == ((story.hulls["held"], line.codes[0][1]),)]
    assert "OVEN-2" in line.what and "S1" in line.what and line.detail.startswith("in oven again")
    quality = signed_in("P-06")
    for asked in (f"q={story.hulls['held']}", "kind=in+oven+again&order=newest", "q=oven-2+s1"):
        assert line in quality.get(f"/open/cycles/?{asked}").context["page"].lines
    assert quality.get("/open/cycles/?q=nothing+like+it").context["page"].lines == ()


def test_what_needs_a_look_names_the_bag_and_the_hull(story: Told) -> None:
    bag = story.plant.boxes["foam"][5]
    story.plant.scan(ProveEmpty(vessel=bag), person="P-05", mode="tells")
    line = next(line for line in questions.lines(0, 50) if printed(bag) in {text for text, _url in line.codes})
    assert line.url.startswith("/lot/")
    about_hull = [line for line in questions.lines(0, 50) if story.hulls["no foam"] in {t for t, _u in line.codes}]
    assert about_hull, "a load closed without its foam is looked for in the hull it became"


def test_all_of_it_is_there_in_pages(story: Told, signed_in: Callable[[str], Client]) -> None:
    for n in range(2):
        story.plant.clock.on(minutes=5)
        story.plant.scan(ProveEmpty(vessel=story.plant.boxes["foam"][5 + n]), person="P-05", mode="tells")
    count = counts(["questions"])["questions"][0]
    assert count > 2
    paged = [line for n in range(count) for line in questions.lines(n, 1)]
    assert paged == questions.lines(0, count)
    client = signed_in("P-06")
    for slug in OPEN_LISTS:
        page = client.get(f"/open/{slug}/")
        assert page.status_code == 200
        assert len(page.context["page"].lines) == min(50, counts([slug])[slug][0])
    assert client.get("/open/questions/?page=99").context["page"].pages.number == 1
    assert client.get("/open/nothing/").status_code in (403, 404)


def test_home_says_what_is_open_with_counts(story: Told, signed_in: Callable[[str], Client]) -> None:
    found = counts(OPEN_LISTS)
    home = signed_in("P-06").get("/").context["home"]
    assert [(w.url, w.count, w.oldest) for w in home.waits] == [
        (f"/open/{slug}/", *found[slug]) for slug, one in OPEN_LISTS.items() if one.at_home
    ]  # fmt: skip
    # At a desk it is a sheet: the list with the oldest thing first, and of each its oldest, one press away.
    shown = [w for part in (home.desk.open, home.desk.aside) for w in part]
    assert {w.slug for w in shown} == {w.slug for w in home.waits if w.count}
    assert [w.oldest for w in home.desk.open] == sorted(w.oldest for w in home.desk.open)
    assert sorted(w.letter for w in shown) == list("ABCDEFGHIJKLMNOPQRSTUVWXYZ"[: len(shown)])
    for w in shown:
        assert list(w.lines) == OPEN_LISTS[w.slug].lines(0, 3) and all(line.url for line in w.lines)
    assert {b.letter for b in home.desk.drawing.wide.balloons} == {w.letter for w in shown}
    # A warehouse man reads the holds and nothing else of it.
    assert [w.url for w in signed_in("P-07").get("/").context["home"].waits] == ["/open/holds/"]


def test_the_auditor_reads_the_lists_and_changes_nothing(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-08")
    for slug in OPEN_LISTS:
        page = client.get(f"/open/{slug}/")
        assert page.context["page"].form is None and not any(line.act for line in page.context["page"].lines)
        assert client.post(f"/open/{slug}/", {}).status_code in (403, 405)
        assert page.status_code == 200 and "Say what came of it" not in page.content.decode()
    assert client.get("/setup/person/").status_code == 200
    assert client.post("/setup/person/", {}).status_code == 403
    assert "Record it" not in client.get("/setup/person/?key=P-01").content.decode()


def test_a_longer_list_asks_no_more_statements(story: Told) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as sent:
            questions.lines(0, 50)
        return len(sent)

    before = asked()
    for n in range(3):
        story.plant.clock.on(minutes=5)
        story.plant.scan(ProveEmpty(vessel=story.plant.boxes["foam"][4 + n]), person="P-05", mode="tells")
    assert asked() == before


def test_the_history_of_a_thing_is_read_in_pages(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in ("trace.pages.units.thing", "trace.pages.unit"):
        monkeypatch.setattr(f"{module}.SHOWN", 7)
    client = signed_in("P-06")
    seen, url = 0, "/unit/T430-01/"
    while url:
        page = client.get(url)
        assert "not shown" not in page.content.decode()
        sheet = page.context["unit"]
        seen, url = seen + len(sheet.history), sheet.pages.older_url
    assert seen == sheet.entries > 14


def test_times_stand_in_the_plants_zone(story: Told, signed_in: Callable[[str], Client]) -> None:
    line = holds.lines(0, 1)[0]
    assert line.since.utcoffset() is not None
    assert line.since <= story.plant.clock.now + timedelta(minutes=10)


def test_what_is_looked_at_is_closed_beside_its_list(story: Told, signed_in: Callable[[str], Client]) -> None:
    """Also one of many: the form is about the one that was asked for."""
    for n in range(2):
        story.plant.clock.on(minutes=5)
        story.plant.scan(ProveEmpty(vessel=story.plant.boxes["foam"][5 + n]), person="P-05", mode="tells")
    newest = questions.lines(0, 1000)[-1]
    client = signed_in("P-06")
    [line] = [one for one in client.get("/open/questions/").context["page"].lines if one.key == newest.key]
    form = client.get(line.act_url.partition("#")[0]).context["page"].form
    assert form.key == newest.key and "Sunniva Lund" in {before.who for before in form.before}
    done = send(client, "questions", "close", newest.key, why="counted", why_words="swept up")
    assert done.status_code == 200 and "looked at and closed" in done.context["page"].said.lower()
    assert newest.key not in {one.key for one in questions.lines(0, 1000)}
    assert client.get(line.act_url.partition("#")[0]).context["page"].form is None, "closed, it has no form"
    assert send(client, "questions", "close", newest.key, why="counted").status_code == 400


def send(client: Client, slug: str, act: str, of: str = "", **boxes: str) -> Any:
    """A form of a list as a browser sends it."""
    return client.post(f"/open/{slug}/", {"act": act, "of": of, "scan_id": str(uuid7()), **boxes})


def test_a_list_is_looked_through_by_words_kind_and_order(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")

    def keys(asked: str) -> list[str]:
        return [line.key for line in client.get(f"/open/holds/?{asked}").context["page"].lines]

    every = keys("")
    assert len(every) > 1 and keys("order=newest") == every[::-1]
    assert keys("order=sideways") == every, "an order that there is not is the usual one"
    [torque] = keys("q=torque+PRIYA")
    assert keys("q=N-0417") == [torque]
    assert set(keys("kind=quality")) < set(every) and torque in keys("kind=quality")
    assert keys("q=nothing+like+it") == []
    page = client.get("/open/holds/?q=nothing+like+it").context["page"]
    assert (page.all, page.pages.count, page.searched) == (len(every), 0, True)
    # What was looked for stays when a form is opened.
    assert "q=torque" in client.get("/open/holds/?q=torque").context["page"].lines[0].act_url
    bag = printed(story.plant.boxes["red"][0])
    story.plant.hold(story.plant.boxes["red"][0], reason="Dented")
    assert len(keys(f"q={bag}")) == 1 == len(keys(f"q={bag.replace('-', '')}")), "a label as it is printed and as kept"


def test_a_hold_is_laid_and_ended_beside_the_list(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    serial = story.hulls["sled"]
    empty = send(client, "holds", "lay")
    faults = empty.context["page"].form.faults
    assert empty.status_code == 409 and len(faults) == 3, "all that is missing is said at once"
    assert [f.partition(":")[0] for f in faults] == ["Label, plate or lot", "Hold for", "Reason"]
    wrong = send(client, "holds", "lay", code="3333-3333", kind="quality", why="damage")
    assert wrong.status_code == 409 and wrong.context["page"].form.faults
    assert wrong.context["page"].form.fields[0].value == "3333-3333", "what was typed stays"
    before = counts(["holds"])["holds"][0]
    sent = {"code": serial, "kind": "safety", "why": "damage", "why_words": "Bow split"}
    assert send(client, "holds", "lay", **sent).status_code == 200
    assert counts(["holds"])["holds"][0] == before + 1
    [line] = [one for one in holds.lines(0, 50) if "Bow split" in one.what]
    # Who laid it sees that, and does not end a hold for safety alone.
    form = client.get(f"/open/holds/?act=end&of={line.key}").context["page"].form
    assert [(b.who, b.you) for b in form.before] == [("Priya Ashdown", True)]
    own = send(client, "holds", "end", line.key, why="put right")
    assert own.status_code == 409 and len(own.context["page"].form.faults) >= 1
    other = signed_in("P-10")
    form = other.get(f"/open/holds/?act=end&of={line.key}").context["page"].form
    assert [(b.who, b.you) for b in form.before] == [("Priya Ashdown", False)]
    assert send(other, "holds", "end", line.key, why="put right").status_code == 200
    assert counts(["holds"])["holds"][0] == before


def test_who_may_lay_a_hold_may_not_therefore_end_one(story: Told, signed_in: Callable[[str], Client]) -> None:
    lead = signed_in("P-03")
    page = lead.get("/open/holds/").context["page"]
    assert page.form.act == "lay" and not any(line.act for line in page.lines)
    assert send(lead, "holds", "end", holds.lines(0, 1)[0].key, why="put right").status_code == 403
    assert send(lead, "holds", "nonsense").status_code == 400


def test_a_lot_is_released_beside_the_list(story: Told, signed_in: Callable[[str], Client]) -> None:
    delivery = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2401", amounts=("100",))
    story.plant.scan(delivery, person="P-05")
    [line] = [line for line in lots.lines(0, 50) if line.codes[0][0] == "V-2401"]
    client = signed_in("P-06")
    form = client.get(f"/open/lots/?act=release&of={line.key}").context["page"].form
    assert [(b.what, b.who) for b in form.before] == [("Booked it", "Sunniva Lund")]
    refused = send(client, "lots", "release", line.key, how="released")
    assert refused.status_code == 409 and "certificate" in refused.context["page"].form.faults[0]
    assert client.get("/open/lots/?act=release&of=moon").context["page"].form is None


def test_a_hull_is_inspected_beside_the_list_and_stands_among_the_records(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    story.plant.go_on()
    serial = story.plant.kayak(bag=6)
    [line] = [one for one in inspections.lines(0, 50) if one.codes[0][0] == serial]
    assert line.detail.startswith("to inspect")
    client = signed_in("P-06")
    form = client.get(f"/open/inspections/?act=inspect&of={line.key}").context["page"].form
    zones = [f.name for f in form.fields if f.name.startswith("zone_")]
    boxes = {**dict.fromkeys(zones, "4.1"), **{f.name: "yes" for f in form.fields if f.kind == "tick"}}
    unread = send(client, "inspections", "inspect", line.key, verdict="pass")
    assert len(unread.context["page"].form.faults) == 2, "not looked at and not read, both at once"
    assert send(client, "inspections", "inspect", line.key, verdict="pass", **boxes).status_code == 200
    assert line.key not in {one.key for one in inspections.lines(0, 50)}
    record = client.get(f"/open/inspected/?q={serial}").context["page"].lines[0]
    assert record.codes[0] == (serial, f"/hull/{serial}/") and record.what == "Passed" and "Z1 4.1 mm" in record.detail


def test_what_was_told_late_says_which_bags_and_hulls_it_changed(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    # The list is of the last days: the story was told before them, and is put right now.
    clock = story.plant.clock
    clock.on(days=(timezone.now() - clock.now).days)
    weighed = Event.objects.filter(kind="weighed", body__contains='"layer":"foam"').order_by("-id")[0]
    was = next(code for name in ("foam", "foam 2") for code in story.plant.boxes[name] if code in weighed.body)
    now = next(code for code in story.plant.boxes["foam"] if code != was)
    assert late.lines(0, 50) == []
    story.plant.correct(str(weighed.uid), was, now, "The paper shows the other bag")
    [line] = late.lines(0, 50)
    said = {text for text, _url in line.codes}
    assert {printed(was), printed(now)} <= said and said & set(story.hulls.values())
    assert "withdrawn" in line.detail and line.amount == "1 hull" and line.who == "Priya Ashdown"
    assert signed_in("P-06").get("/").context["home"].desk.aside[-1].slug == "late"
