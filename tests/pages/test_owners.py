"""Owners at the desk and over the API: half a plate, a pasted table with bad rows, names to quality alone, a recall."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.codes import uuid7
from trace.genealogy.containment import looked_for
from trace.models import Unit
from trace.recording.acts.opening import OldHull
from trace.recording.commands import By
from trace.recording.record import record
from trace.sheets.owners.registering import pasted

LEAD, QUALITY, AUDITOR, OPERATOR = "P-03", "P-06", "P-08", "P-01"
SignedIn = Callable[[str], Client]


def sent(client: Client, do: str, **fields: Any) -> Any:
    return client.post("/owners/", {"scan_id": str(uuid7()), "do": do, **fields})


def gone(story: Told) -> list[str]:
    """Plates of hulls that have left, as the recall of the story's hold lists them."""
    hulls = list(Unit.objects.filter(kind="hull").values_list("id", flat=True))
    return sorted(one.node.code for one in looked_for(hulls, ()) if one.gone)


def test_by_half_a_plate_and_who_sees_the_name(story: Told, signed_in: SignedIn) -> None:
    plate = gone(story)[0]
    lead = signed_in(LEAD)
    page = lead.get(f"/owners/?q={plate[-5:]}").context["page"]
    url = next(url for line, url in page.candidates if line.name == plate)
    chosen = lead.get(url.partition("#")[0])
    assert chosen.context["page"].hull == plate and "no owner registered" in chosen.content.decode()
    answer = sent(lead, "register", hull=plate, owner_is="first", sold="2026-01-05", region="gb-sct",
                  owner="Wilf Heron", contact="wilf@example.org")
    assert answer.status_code == 302, answer.context["page"].refused
    for who, sees in ((LEAD, False), (QUALITY, True), (AUDITOR, False)):
        client = signed_in(who)
        for at in (f"/owners/?hull={plate}", f"/hull/{plate}/"):
            html = client.get(at).content.decode()
            assert "GB-SCT" in html and ("Wilf Heron" in html) is sees, (who, at)
    assert "Wilf" not in signed_in(OPERATOR).get(f"/hull/{plate}/").content.decode()
    # Erased by quality alone; taken back with its reason.
    assert sent(signed_in(LEAD), "erase", hull=plate, reason="asked").status_code == 403
    quality = signed_in(QUALITY)
    assert sent(quality, "erase", hull=plate, reason="asked").status_code == 302
    assert "(words erased)" in quality.get(f"/hull/{plate}/").content.decode()
    [one] = quality.get(f"/owners/?hull={plate}").context["page"].owners
    assert sent(quality, "withdraw", hull=plate, registration=one.uid).status_code == 409
    assert sent(quality, "withdraw", hull=plate, registration=one.uid, reason="misread").status_code == 302
    assert quality.get(f"/owners/?hull={plate}").context["page"].owners == ()


def test_good_rows_of_a_table_are_kept_and_bad_ones_say_why(story: Told, signed_in: SignedIn) -> None:
    [one, two] = gone(story)[0], "OLD-9001"
    old = OldHull(serial=two, product="T430", consignee="WHARFE", gone="2025-07-01")
    assert record(old, By(person=QUALITY)).outcome == "accepted"
    table = "\n".join((
        "Plate\tSold\tRegion\tUse\tName\tContact",
        f"{one}\t2026-01-05\tNO-46\thire\tOona\toona@example.org",
        f"{two}\t2026-01-05\tNorway\tprivate\tWilf\twilf@example.org",
        f"{one.lower()};2026-01-06;;;Third;x@example.org;Later owner",
        "ZZ-99999\t\t\t\t\t", "GHM\t\t\t\t\t", "4\t\t\t\t\t",
    ))  # fmt: skip
    quality = signed_in(QUALITY)
    answer = sent(quality, "paste", table=table)
    page = answer.context["page"]
    assert (answer.status_code, page.kept, len(page.refused)) == (409, 2, 4)
    assert [said.said.split(":")[0] for said in page.refused] == [
        "“Norway” is no region. Write it after ISO 3166-2, as GB-SCT, or only the country, or leave it open.",
        "No hull has a plate like “ZZ-99999”.", "“GHM” fits several plates", "“4” is too little of a plate",
    ]  # fmt: skip
    assert page.again.splitlines()[0].split("\t")[:3] == [two, "2026-01-05", "Norway"]
    # Put right and sent again, with what was kept: that is said, and the rest kept.
    again = sent(quality, "paste", table=page.again.replace("Norway", "NO")).context["page"]
    assert again.kept == 1
    recall = quality.get("/recall/?q=model=T430").context["page"]
    known = {hull.code: hull.registered for to in recall.consignees for hull in to.hulls}
    assert all(known[plate] for plate in (one, two))
    assert sum(known.values()) == sum(to.registered for to in recall.consignees)
    assert any(f"registered of {sum(known.values())} of the" in gap for gap in recall.gaps)
    listed = quality.get("/scope/?q=region=NO&sort=region").context["page"]
    rows = {row.code: (row.verdict, row.region) for row in listed.rows}
    assert rows[two] == ("certain", "NO")
    assert {row.group for row in listed.rows if row.group} >= {"NO", "owner’s region unknown"}


def test_over_the_api_each_row_is_answered_once(story: Told, signed_in: SignedIn) -> None:
    plate = gone(story)[0]
    quality = signed_in(QUALITY)
    call = {
        "number": str(uuid7()),
        "rows": [
            {"plate": plate, "region": "GB", "owner": "Oona", "contact": "o@example.org"},
            {"plate": plate, "sold": "x"},
        ],
    }  # fmt: skip
    first = quality.post("/api/owners/", call, content_type="application/json").json()
    assert [one["kept"] for one in first] == [True, False] and first[1]["said"].startswith("“x” is no day")
    assert quality.post("/api/owners/", call, content_type="application/json").json() == first
    [told] = [one for one in quality.get("/api/owners/").json() if one["hull"] == plate]
    assert (told["owner_is"], told["region"], told["sold"]) == ("first", "GB", None) and "Oona" not in str(told)
    every: tuple[dict[str, Any], ...] = ({}, {"rows": {}}, {"rows": [1], "number": "x"}, {"rows": [], "number": "x"})
    for bad in every:
        assert quality.post("/api/owners/", bad, content_type="application/json").status_code == 400


@pytest.mark.parametrize("text", ["", "\n;;\t\n", "Plate;Sold\n"])
def test_a_table_without_a_row(text: str) -> None:
    assert pasted(text) == []
