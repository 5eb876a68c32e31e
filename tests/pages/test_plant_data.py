"""Plant data entered by forms: boxes made from the declaration, all faults at once, a key that is there already."""

import json
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from plant.kinds.table import KINDS
from tests.pages.story import Told
from trace.demo import plant as invented
from trace.demo.floor import RefusedError
from trace.models import Revision
from trace.readmodels.plantdata import newest
from trace.recording.acts.setup import Define


def sent(client: Client, kind: str, /, **fields: Any) -> Any:
    return client.post(f"/setup/{kind}/", {"scan_id": str(uuid4()), **fields})


def test_an_existing_key_entered_as_new_asks_and_is_revised_when_that_is_chosen(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    client, before = signed_in("P-09"), newest().body("works_order", "WO-1041")
    other = {"new": "1", "key": "WO-1041", "product": "H320", "colour": "lime", "quantity": "7", "purpose": "trial"}
    page = sent(client, "works_order", **other)
    assert page.status_code == 409
    assert newest().body("works_order", "WO-1041") == before, "nothing took the place of the live order"
    thing = page.context["thing"]
    assert {(b.field, b.stands, b.entered) for b in thing.beside if b.differs} >= {
        ("product", "T430", "H320"), ("quantity", "40", "7"),
    }  # fmt: skip
    text = page.content.decode()
    assert "There is a works order WO-1041 already, at revision 1." in " ".join(text.split())
    assert "Revise WO-1041 with what was entered" in text
    # The first button is what Enter presses.
    assert "revise" not in text[text.index("<form method=\"post\" action=\"/setup") :].split("<button")[1].split(">")[0]
    assert sent(client, "works_order", **other, revise="1").status_code == 302
    assert newest().body("works_order", "WO-1041")["product"] == "H320"


def test_nor_does_the_record_take_it_as_new(story: Told) -> None:
    body = newest().body("mould", "T430-01")
    with pytest.raises(RefusedError, match="THING-THERE"):
        story.plant.scan(Define(kind="mould", key="T430-01", body=body, new=True), person="P-09")
    assert Revision.objects.filter(thing__key="T430-01").count() == 1


def test_a_person_entered_twice_is_asked_about(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-09")
    page = sent(client, "person", new="1", key="P-01", name="Somebody Else", roles=["quality"])
    assert page.status_code == 409 and page.context["thing"].beside
    assert newest().body("person", "P-01")["roles"] == ["operator"]


WRONG = {
    "products": ["T999"], "arms": ["S9", "OVEN-1"], "state": "fine", "service_every": -3, "logger": "W-3",
    "servce_every": 500,
}  # fmt: skip
SAYS = (
    "there is no product T999", "there is no machine S9", "“arms” names OVEN-1, and that is no arm",
    "“state” must be one of in service", "“service_every” must be a whole number from 0", "“logger” names W-3",
    "Is “service_every” meant?",
)  # fmt: skip


def test_all_that_is_wrong_is_said_at_once_and_nothing_is_kept(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    page = sent(signed_in("P-09"), "mould", new="1", key="T430-77", body=json.dumps(WRONG))
    assert page.status_code == 409
    found = [str(fault) for fault in page.context["thing"].faults]
    assert len(found) == len(SAYS)
    for words in SAYS:
        assert any(words in one for one in found), (words, found)
    assert "Nothing was kept: 7 things to put right." in " ".join(page.content.decode().split())
    assert newest().get("mould", "T430-77") is None


def test_the_record_refuses_the_same_whoever_sends_it(story: Told) -> None:
    """Not only the form: what another program sends is judged by the rule, in the same words."""
    with pytest.raises(RefusedError, match="THING-FAULTY") as refused:
        story.plant.scan(Define(kind="mould", key="T430-77", body=WRONG), person="P-09")
    for words in SAYS:
        assert words in str(refused.value)
    for kind, key, body in (
        ("person", "P-60", {"roles": ["operator"], "trained": {"welding": "2027-01-01"}}),
        ("product", "T431", invented.products()["T430"]),
        ("works_order", "WO-9", {"product": "T430", "colour": "plaid", "quantity": 1, "purpose": "trial"}),
        ("supplier", "NEW", {"name": "New", "materials": ["LL-99"]}),
    ):
        with pytest.raises(RefusedError, match="THING-FAULTY"):
            story.plant.scan(Define(kind=kind, key=key, name="X", body=body), person="P-09")


def test_every_thing_of_the_plant_comes_back_from_its_own_form_unchanged(
    story: Told, signed_in: Callable[[str], Client]
) -> None:
    """The form as it is shown, sent as it is: nothing would change, and the record says so."""
    client = signed_in("P-09")
    for kind in KINDS:
        for thing in newest().of_kind(kind.name):
            page = client.get(f"/setup/{kind.name}/", {"key": thing.key}).context["thing"]
            fields: dict[str, Any] = {"key": thing.key}
            if page.boxes:
                for box in page.boxes:
                    fields |= filled(box)
            else:
                fields["body"] = page.text
            answer = sent(client, kind.name, **fields)
            assert answer.status_code == 409, (kind.name, thing.key, fields)
            assert "is so already" in answer.context["thing"].error, (thing, answer.context["thing"])


def filled(box: Any) -> dict[str, Any]:
    """What a browser sends of a box as it is drawn."""
    if box.kind == "ticks":
        return {box.name: sorted(box.chosen)}
    if box.kind == "tick":
        return {box.name: "yes"} if box.value else {}
    inside = box.inner if box.kind == "boxes" else [one for row in box.rows for one in row]
    if inside:
        return {name: value for one in inside for name, value in filled(one).items()}
    return {} if box.kind in ("boxes", "rows") else {box.name: box.value}


def test_an_order_of_several_lines_is_entered_by_its_rows(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-09")
    assert 'name="lines.2.product"' in client.get("/setup/sales_order/?new=1").content.decode()
    rows = {
        "lines.0.product": "T430", "lines.0.colour": "red", "lines.0.quantity": "12", "lines.1.product": "",
        "lines.2.product": "B60", "lines.2.colour": "teal", "lines.2.quantity": "3",
    }  # fmt: skip
    assert sent(client, "sales_order", new="1", key="SO-300", consignee="WHARFE", **rows).status_code == 302
    assert newest().body("sales_order", "SO-300") == {
        "consignee": "WHARFE",
        "lines": [
            {"product": "T430", "colour": "red", "quantity": 12}, {"product": "B60", "colour": "teal", "quantity": 3},
        ],
    }  # fmt: skip
    wrong = sent(client, "sales_order", new="1", key="SO-301", consignee="", **{**rows, "lines.0.quantity": "many"})
    said = " ".join(map(str, wrong.context["thing"].faults))
    assert "“consignee” is missing" in said and "“lines 1 quantity” must be a whole number" in said
    assert 'value="many"' in wrong.content.decode(), "what was typed is there to be put right"


def test_a_person_is_entered_by_ticks_and_days(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-09")
    fields = {"roles": ["operator", "lead"], "trained.weighing": "2027-06-30", "trained.oven": "", "until": ""}
    assert sent(client, "person", new="1", key="P-20", name="Orla Penhallow", **fields).status_code == 302
    body = newest().body("person", "P-20")
    assert (body["roles"], body["trained"]) == (["operator", "lead"], {"weighing": "2027-06-30"})
    assert "trained" in client.get("/setup/person/?key=P-20").content.decode()


def test_the_api_answers_plant_data_and_describes_it(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-08")
    moulds = {one["key"]: one for one in client.get("/api/plant-data/mould/").json()}
    assert moulds["T430-01"]["body"] == newest().body("mould", "T430-01") and moulds["T430-01"]["version"] == 1
    people = client.get("/api/plant-data/person/").content.decode()
    assert "Orrell" not in people, "names stand apart, so that they can be erased"
    assert client.get("/api/plant-data/nothing/").status_code in (403, 404)
    schema = client.get("/api/schema/", headers={"Accept": "application/vnd.oai.openapi+json"}).json()
    answer = schema["paths"]["/api/plant-data/{kind}/"]["get"]["responses"]["200"]["content"]["application/json"]
    bodies = answer["schema"]["items"]["properties"]["body"]["oneOf"]
    assert {body["title"] for body in bodies} == {kind.name for kind in KINDS}
    mould = next(body for body in bodies if body["title"] == "mould")
    assert mould["required"] == ["products", "arms", "state"]


def test_a_hold_from_a_lots_page_is_on_the_lot(story: Told, signed_in: Callable[[str], Client]) -> None:
    """And says so; one container is a choice beside it."""
    client = signed_in("P-06")
    for code in (story.plant.boxes["m8"][0], "N-0398"):
        link = client.get(f"/lot/{code}/").context["lot"].hold_url
        assert "whole_lot=yes" in link
        page = client.get(link)
        assert page.status_code == 200
        shown = page.context["page"]
        [choice] = [f for f in shown.fields if f.name == "whole_lot"]
        assert choice.value == "yes"
        assert {c.value for c in choice.choices} == {"yes", "no"}
        said = f"{shown.asked.sentence} {shown.asked.detail}"
        assert "the whole lot" in said and "N-0398" in said
        # At the station itself, a scanned container is a container.
        alone = client.get(f"/scan/hold/?thing={story.plant.boxes['m8'][0]}").context["page"]
        assert next(f for f in alone.fields if f.name == "whole_lot").value == "no"
