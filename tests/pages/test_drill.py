"""The desk's page of mock recalls: drawn, begun, marked, signed, and compared with the last."""

from collections.abc import Callable

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.codes import uuid7
from trace.genealogy.drill import drills


@pytest.fixture
def client(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("P-06")


def drilled(client: Client, lot: str, hull: str) -> str:
    """The address of a drill begun, marked both ways and signed."""
    address = str(client.post("/drill/", {"lot": lot, "hull": hull, "scan_id": str(uuid7())})["Location"])
    uid = drills()[0].uid
    for sent in ({"way": "forward"}, {"way": "back"}, {"remark": "Drawn by the auditor"}):
        answer = client.post("/drill/", {"drill": uid, "scan_id": str(uuid7()), **sent})
        assert answer.status_code == 302, answer.content
    return address


def test_a_drill_is_signed_and_compared_with_the_last(client: Client, story: Told) -> None:
    first = drilled(client, "V-2288", story.hulls["held"])
    page = client.get(first).context["page"]
    assert (page.same, page.signed_by, page.remark) == (True, "Priya Ashdown", "Drawn by the auditor")
    assert not page.may_send
    second = client.get(drilled(client, "N-0417", story.hulls["gone"])).context["page"]
    assert second.last_url == first
    figures = {one.name: one for one in second.figures}
    assert figures["hulls certain"].last == {one.name: one for one in page.figures}["hulls certain"].signed
    listed = client.get("/drill/").context["page"].drills
    assert [one.minutes for one in listed] == [0, 0]
    changed = client.post("/drill/", {"drill": drills()[0].uid, "remark": "x", "scan_id": str(uuid7())})
    assert (changed.status_code, "This drill is signed." in changed.content.decode()) == (409, True)


def test_both_are_drawn_at_random_of_what_there_is(client: Client, signed_in: Callable[[str], Client]) -> None:
    page = client.get("/drill/", {"draw": "yes"}).context["page"]
    answer = client.post("/drill/", {"lot": page.lot, "hull": page.hull, "scan_id": str(uuid7())})
    assert answer.status_code == 302
    # The auditor reads it all and begins none.
    auditor = signed_in("P-08")
    assert not auditor.get("/drill/").context["page"].may_send
    assert auditor.post("/drill/", {"lot": page.lot, "hull": page.hull, "scan_id": str(uuid7())}).status_code == 403


def test_one_form_records_one_thing(client: Client, story: Told) -> None:
    scan = str(uuid7())
    assert client.post("/drill/", {"lot": "V-2288", "hull": story.hulls["held"], "scan_id": scan}).status_code == 302
    again = client.post("/drill/", {"drill": drills()[0].uid, "way": "back", "scan_id": scan})
    assert (again.status_code, "sent before with something else" in again.content.decode()) == (400, True)


@pytest.mark.parametrize("uid", ["x", "01900000-0000-7000-8000-000000000000"])
def test_what_is_not_there_is_said(client: Client, uid: str) -> None:
    assert client.get("/drill/", {"drill": uid}).status_code == 404
    refused = client.post("/drill/", {"lot": "nobody", "hull": "nobody", "scan_id": str(uuid7())})
    assert (refused.status_code, "Nothing" in refused.content.decode()) == (409, True)
