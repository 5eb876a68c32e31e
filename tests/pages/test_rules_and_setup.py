"""Rules and plant data are read as pages and changed by record."""

import json
from collections.abc import Callable
from uuid import uuid4

import pytest
from django.test import Client

from plant.kinds.judge import faults
from tests.pages.story import Told
from trace.demo import plant as invented
from trace.demo.floor import Shift
from trace.models import Event, Revision
from trace.pages.rules import STATIONS, LookedFor, rules_page
from trace.pages.setup.text import TextError, read
from trace.readmodels.plantdata import Directory, newest
from trace.recording.acts.weighing import CheckWeight
from trace.recording.rules.table import BY_STATION, TABLE


def test_every_rule_has_its_row_and_its_sentence(story: Told) -> None:
    page = rules_page(newest())
    assert {r.code for r in page.rules} == {r.code for r in TABLE}
    assert all(r.sentence and "{" not in r.sentence and r.guards for r in page.rules)
    fixed = {r.code for r in page.rules if r.fixed}
    assert "PLATE-USED" in fixed and "VENT-DUE" not in fixed


def test_rules_stand_by_their_station_folded_up(story: Told, signed_in: Callable[[str], Client]) -> None:
    assert set(STATIONS) == set(BY_STATION)
    page = rules_page(newest())
    assert sum(len(group.rules) for group in page.groups) == page.count == len(TABLE)
    assert not any(group.open for group in page.groups)
    [weigh] = [group for group in page.groups if group.title == str(STATIONS["weighing"])]
    assert [rule.code for rule in weigh.rules] == [rule.code for rule in BY_STATION["weighing"]]
    assert sum(n for _verdict, n in weigh.verdicts) == len(weigh.rules)
    # Of a rule that is about to be switched its group is open, and no other.
    opened = signed_in("P-09").get("/rules/?change=VENT-DUE").context["rules"].groups
    assert [group.title for group in opened if group.open] == [str(STATIONS["loading"])]


def test_a_rule_is_looked_for_by_its_words_station_and_verdict(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    def found(**asked: str) -> set[str]:
        return {rule.code for rule in rules_page(newest(), LookedFor(**asked)).rules}

    weighed = found(words="Check-weight scale")
    assert "SCALE-UNCHECKED" in weighed and "VENT-DUE" not in weighed
    assert found(station="people") == {rule.code for rule in BY_STATION["people"]}
    assert found(verdict="warn", station="weighing") == {
        rule.code for rule in BY_STATION["weighing"] if rule.verdict == "warn"
    }
    assert found(words="zebra crossing") == set()
    client = signed_in("P-06")
    assert all(group.open for group in client.get("/rules/?q=scale&now=refuse").context["rules"].groups)
    assert "No rule says that." in client.get("/rules/?q=zebra+crossing").content.decode()
    # What is no station and no verdict is not asked for.
    assert client.get("/rules/?at=moon&now=perhaps").context["rules"].count == len(TABLE)


def test_counts_come_from_the_scans(story: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trace.pages.rules.COUNTED_DAYS", 3000)
    rules = {r.code: r for r in rules_page(newest()).rules}
    assert (rules["COOK-NO-LOG"].fired, rules["COOK-NO-LOG"].flagged) == (1, 1)
    assert rules["LOAD-LAYER-MISSING"].flagged == 1
    assert rules["PLATE-USED"].fired == 0


def test_a_refusal_was_heeded_where_the_same_act_was_recorded_otherwise(story: Told) -> None:
    """Mistyped, refused, typed right: heeded. Sent again as it was, or refused again: not."""

    def heeded() -> int:
        return {r.code: r for r in rules_page(newest()).rules}["CHECK-WEIGHT-AGAIN"].heeded

    before, shift = heeded(), Shift(device="heeded")
    shift.scan(CheckWeight(scale="W-3", shown="1.00"), expect="CHECK-WEIGHT-AGAIN")
    shift.scan(CheckWeight(scale="W-3", shown="1.10"), expect="CHECK-WEIGHT-AGAIN")
    assert heeded() == before
    shift.scan(CheckWeight(scale="W-3", shown="10.00"))
    assert heeded() == before + 1
    # At another screen it is another matter.
    shift.scan(CheckWeight(scale="W-3", shown="1.00"), expect="CHECK-WEIGHT-AGAIN")
    Shift(device="elsewhere").scan(CheckWeight(scale="W-3", shown="10.00"))
    assert heeded() == before + 1


def switch(client: Client, code: str, verdict: str, scan_id: str = "") -> int:
    sent = {"code": code, "verdict": verdict, "scan_id": scan_id or str(uuid4())}
    return client.post("/rules/", sent).status_code


def test_an_administrator_switches_a_rule_by_record(story: Told, signed_in: Callable[[str], Client]) -> None:
    client, scan = signed_in("P-09"), str(uuid4())
    before = rules_page(newest()).name
    assert switch(client, "VENT-DUE", "refuse", scan) == 200
    assert switch(client, "VENT-DUE", "refuse", scan) == 200, "sent twice, it counts once"
    page = rules_page(newest())
    assert page.name != before
    assert [(h.rule, h.verdict, h.who) for h in page.history] == [("VENT-DUE", "refuse", "Cass Imrie")]
    assert next(r for r in page.rules if r.code == "VENT-DUE").verdict == "refuse"
    assert switch(client, "PLATE-USED", "off") == 409
    assert switch(client, "VENT-DUE", "perhaps") == 409
    assert switch(client, "NO-SUCH-RULE", "off") == 400
    assert 'form method="post" action="/rules/"' in client.get("/rules/?change=VENT-DUE").content.decode()


def test_a_form_sent_again_with_something_else_in_it_is_refused(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    """Its number stands for the first thing alone, at every address that records."""
    client, scan = signed_in("P-09"), str(uuid4())
    assert switch(client, "VENT-DUE", "refuse", scan) == 200
    assert switch(client, "VENT-DUE", "off", scan) == 400
    rack = next(body for kind, key, _name, body in invented.things() if (kind, key) == ("place", "R4-2"))
    answer = client.post("/setup/place/", {"key": "R9", "new": "1", "body": json.dumps(rack), "scan_id": scan})
    assert (answer.status_code, "sent before with something else" in answer.content.decode()) == (400, True)
    assert newest().get("place", "R9") is None


def test_others_read_the_rules_and_change_none(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    assert client.get("/rules/").status_code == 200
    assert "?change=" not in client.get("/rules/").content.decode()
    assert switch(client, "VENT-DUE", "off") == 403


def powder(more: str) -> str:
    return f'{{"name": "X", "kind": "powder", {more}}}'


def hull(more: str) -> str:
    return f'{{"name": "X", "area_m2": "5", "hull_number": {{"format": "plant"}}, "layers": [], {more}}}'


def test_the_demo_plants_data_has_no_fault(story: Told) -> None:
    for kind, key, _name, body in invented.things():
        assert faults(kind, key, body, newest()) == []


@pytest.mark.parametrize(
    ("kind", "text", "says"),
    [
        ("place", "{", "Line 1 cannot be read"),
        ("place", "[]", "in braces"),
        ("place", '{"name": "Rack"}', "“kind” is missing."),
        ("place", '{"name": "Rack", "kind": "rack", "max_kg": 2.5}', "Write the number 2.5 in quotes"),
        ("place", '{"name": "Rack", "kind": "rack", "max_kg": "NaN"}', "“max_kg” must be a number"),
        ("person", '{"roles": ["king"]}', "“roles” must be one of operator, stores"),
        ("person", '{"roles": ["operator"], "trained": {"weighing": "soon"}}', "must be a day"),
        ("mould", '{"products": ["T430"], "arms": [], "state": "fine"}', "must be one of in service"),
        ("product", hull('"checks": [], "layers": [{"name": "skin"}]'), "“layers 1 material” is missing"),
        ("sales_order", '{"consignee": "W", "lines": []}', "“lines” must be a list with something in it"),
        ("material", "[" * 100_000, "nested too deeply"),
        ("material", powder('"spec": {"mfi": ["3.8", "3.2"]}'), "“spec mfi” must be least and most"),
        ("material", powder('"spec": {"mfi": "3.8"}'), "“spec mfi” must be least and most"),
        ("material", powder('"fill_tolerance": "Infinity"'), "“fill_tolerance” must be a number"),
        ("material", powder('"colour": "red; x"'), "“colour” must be a colour"),
        ("product", hull('"cook": {"ovens": "OVEN-1", "stages": []}'), "“cook ovens” must be a list"),
        ("product", hull('"cook": {"ovens": []}'), "“cook stages” is missing"),
        ("product", hull('"cook": {"ovens": [], "stages": [], "piat_c": ["200"]}'), "“cook piat_c” must be least"),
        ("product", hull('"zones": {"Z1": {"least_mm": "thick"}}'), "“zones Z1 least_mm” must be a number"),
        ("product", hull('"zones": {"Z1": "3.4"}'), "“zones Z1” must be names with values"),
        ("product", hull('"graphics": {"PORT": {"artwork": "A"}}'), "“graphics PORT revision” is missing"),
        ("product", hull('"inserts": {"S1": 4}'), "“inserts S1” must be a text in quotes"),
        ("product", hull('"hull_number": {"format": "own"}'), "“hull_number format” must be one of plant, us"),
    ],
)
def test_a_sentence_says_what_is_wrong_with_a_body(kind: str, text: str, says: str) -> None:
    try:
        found = [str(fault) for fault in faults(kind, "X", read(text), Directory(0))]
    except TextError as error:
        found = [str(error)]
    assert any(says in one for one in found), found


def test_a_new_revision_is_an_event_and_the_old_one_stays(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-09")
    body = {**newest().body("mould", "T430-01"), "state": "on hold"}
    sent = {"key": "T430-01", "body": json.dumps(body), "scan_id": str(uuid4())}
    assert client.post("/setup/mould/", sent)["Location"] == "/setup/mould/?key=T430-01"
    assert newest().body("mould", "T430-01")["state"] == "on hold"
    assert Revision.objects.filter(thing__key="T430-01").count() == 2
    page = client.get("/setup/mould/?key=T430-01").content.decode()
    assert "rev 2" in page and "rev 1" in page and "Cass Imrie" in page
    again = client.post("/setup/mould/", {**sent, "scan_id": str(uuid4())})
    assert again.status_code == 409 and "so already" in again.content.decode()


def test_a_persons_name_stays_out_of_the_records(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-09")
    sent = {"new": "1", "key": "P-11", "name": "Orla Penhallow", "body": '{"roles": ["warehouse"]}'}
    assert client.post("/setup/person/", {**sent, "scan_id": str(uuid4())}).status_code == 302
    event = Event.objects.order_by("-id")[0]
    assert "Penhallow" not in event.body
    assert "Orla Penhallow" in client.get("/setup/person/").content.decode()
    # The same name once more is no new name.
    body = {"key": "P-11", "name": "Orla Penhallow", "body": '{"roles": ["stores"]}', "scan_id": str(uuid4())}
    assert client.post("/setup/person/", body).status_code == 302
    first, second = (json.loads(r.body)["name"] for r in Revision.objects.filter(thing__key="P-11"))
    assert first == second


def test_a_planner_enters_a_works_order_by_its_fields(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-09")
    sent = {"new": "1", "key": "WO-2001", "product": "T430", "colour": "teal", "quantity": "6", "purpose": "production"}
    assert client.post("/setup/works_order/", {**sent, "scan_id": str(uuid4())}).status_code == 302
    assert newest().body("works_order", "WO-2001") == {
        "product": "T430", "colour": "teal", "quantity": 6, "purpose": "production",
    }  # fmt: skip
    for wrong in ({"quantity": "six"}, {"colour": "plaid"}, {"product": "X"}, {"key": "a:b"}):
        assert client.post("/setup/works_order/", {**sent, **wrong, "scan_id": str(uuid4())}).status_code == 409


def test_others_may_not_change_plant_data(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    assert client.get("/setup/product/").status_code == 403
    assert client.post("/setup/product/", {}).status_code == 403
    assert signed_in("P-05").get("/setup/mould/").status_code == 200
