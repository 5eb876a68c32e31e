"""What is open in the plant: lists with all of it in pages, each thing with the codes to find it by."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from plant.access import OPEN_LIST_RIGHTS
from tests.pages.story import Told
from trace.codes import printed
from trace.pages.open_lists import cycles, holds, lots, questions
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


def test_a_cycle_is_open_from_the_oven_to_the_demoulding(story: Told) -> None:
    plant = story.plant
    before = counts(["cycles"])["cycles"][0]
    plant.go_on()
    plant.scan(StartCook(oven="OVEN-2", arm="S1", units=(story.hulls["held"],)), station="oven", person="P-03",
               overrides={"COOK-HELD": "A trial"})  # fmt: skip
    assert counts(["cycles"])["cycles"][0] == before + 1
    [line] = [line for line in cycles.lines(0, 50) if line.codes == ((story.hulls["held"], line.codes[0][1]),)]
    assert "OVEN-2" in line.what and "S1" in line.what and line.detail.startswith("in oven again")


def test_what_needs_a_look_names_the_bag_and_the_hull(story: Told) -> None:
    bag = story.plant.boxes["foam"][5]
    story.plant.scan(ProveEmpty(vessel=bag), person="P-05", mode="tells")
    line = next(line for line in questions.lines(0, 50) if printed(bag) in {text for text, _url in line.codes})
    assert line.do_url.startswith("/scan/discrepancies/?discrepancy=")
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
    waits = signed_in("P-06").get("/").context["home"].waits
    assert [(w.url, w.count, w.oldest) for w in waits] == [
        (f"/open/{slug}/", *found[slug]) for slug in OPEN_LISTS
    ]  # fmt: skip
    # A warehouse man reads the holds and nothing else of it.
    assert [w.url for w in signed_in("P-07").get("/").context["home"].waits] == ["/open/holds/"]


def test_the_auditor_reads_the_lists_and_changes_nothing(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-08")
    for slug in OPEN_LISTS:
        page = client.get(f"/open/{slug}/")
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


def test_what_is_looked_at_is_closed_where_its_line_leads(story: Told, signed_in: Callable[[str], Client]) -> None:
    """Also the oldest of many: the station offers the one that was asked for."""
    for n in range(2):
        story.plant.clock.on(minutes=5)
        story.plant.scan(ProveEmpty(vessel=story.plant.boxes["foam"][5 + n]), person="P-05", mode="tells")
    oldest = questions.lines(0, 1000)[-1]
    client = signed_in("P-06")
    [choice] = [f for f in client.get(oldest.do_url).context["page"].fields if f.name == "discrepancy"]
    assert choice.value == choice.choices[0].value
    sent = {"scan_id": "", "do": "send", "discrepancy": choice.value, "why": "counted", "why_words": "swept up"}
    client.post("/scan/discrepancies/", sent, follow=True)
    assert oldest not in questions.lines(0, 1000)
