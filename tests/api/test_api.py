"""What other systems read under /api/: documents that keep the shape of their description."""

import json
from collections.abc import Callable
from typing import Any

import pytest
import yaml
from django.test import Client

from tests.pages.story import Told
from trace.api import views
from trace.genealogy.answer import genealogy
from trace.genealogy.balance.documents import as_document
from trace.genealogy.balance.orders import balances_of_order
from trace.genealogy.balance.subjects import balance_of
from trace.genealogy.causes import read_cause
from trace.genealogy.documents import as_json
from trace.genealogy.shared_documents import as_json as shared_as_json
from trace.genealogy.sharing import shared_by
from trace.genealogy.wide import how_far
from trace.recording.rules.table import TABLE


def test_the_genealogy_is_that_of_the_command(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-08")
    for direction, code in (("back", story.hulls["no foam"]), ("forward", "N-0417")):
        answer = client.get(f"/api/genealogy/{direction}/{code}/?as_known_on=2026-06-12T12:00:00%2B00:00")
        assert answer.status_code == 200 and answer["Content-Type"] == "application/json"
        known = genealogy(code, "back" if direction == "back" else "forward", _moment("2026-06-12T12:00:00+00:00"))
        assert answer.json() == as_json(known)


def test_a_scope_is_that_of_the_command(story: Told, signed_in: Callable[[str], Client]) -> None:
    words = ["holds=N-0417", "and", "not", "arm=S2"]
    asked = {"q": words, "as_known_on": "2026-06-12T12:00:00+00:00"}
    answer = signed_in("P-08").get("/api/scope/", asked)
    assert answer.status_code == 200
    assert answer.json() == shared_as_json(shared_by(read_cause(words), _moment("2026-06-12T12:00:00+00:00")))
    assert signed_in("P-07").get("/api/scope/", asked).status_code == 403


def test_a_balance_is_that_of_the_command(story: Told, signed_in: Callable[[str], Client]) -> None:
    answer = signed_in("P-07").get("/api/balance/V-2288/?as_known_on=2026-06-12T12:00:00%2B00:00")
    assert answer.status_code == 200
    assert answer.json() == as_document(balance_of("V-2288", _moment("2026-06-12T12:00:00+00:00")))
    answer = signed_in("P-07").get(f"/api/balance/{story.hulls['sled']}/")
    assert answer.status_code == 404


def test_balances_by_material(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-09")
    order = client.get("/api/balances/?order=WO-1041").json()
    assert order == {"balances": [as_document(one) for one in balances_of_order("WO-1041")]}
    days = client.get("/api/balances/?first=2026-01-01&last=2026-12-31").json()["balances"]
    assert {"LL-35", "M8-N"} <= {one["material"] for one in days}
    assert all(one["reconciled_percent"] == "100.00" for one in days)
    assert client.get("/api/balances/?order=WO-9").status_code == 404
    assert client.get("/api/balances/?first=soon").status_code == 400


def test_what_has_no_end_is_refused_with_a_way_on(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    units = how_far([genealogy("N-0417", "forward").root.id]).units
    client = signed_in("P-08")
    monkeypatch.setattr(views, "MOST_UNITS", units)
    assert client.get("/api/genealogy/forward/N-0417/").status_code == 200
    monkeypatch.setattr(views, "MOST_UNITS", units - 1)
    assert client.get("/api/balance/N-0417/").status_code == 422
    answer = client.get("/api/genealogy/forward/N-0417/", headers={"Accept": "application/json"})
    assert answer.status_code == 422 and answer.json()["code"] == "too-wide"
    assert f"more than {units - 1}" in answer.json()["what"] and answer.json()["now"]


def _moment(text: str) -> Any:
    from datetime import datetime

    return datetime.fromisoformat(text)


def test_the_rules_with_the_name_answers_cite(story: Told, signed_in: Callable[[str], Client]) -> None:
    found = signed_in("P-08").get("/api/rules/").json()
    assert [r["code"] for r in found["rules"]] == [r.code for r in TABLE]
    assert len(found["rule_set"]) == 12


@pytest.mark.parametrize("far", ["0001-01-01", "9999-12-31"])
def test_a_day_however_far_off_is_a_day(story: Told, signed_in: Callable[[str], Client], far: str) -> None:
    client = signed_in("P-06")
    for first, last in (("", far), (far, ""), (far, far)):
        assert client.get(f"/api/balances/?first={first}&last={last}").status_code == 200
        assert client.get(f"/balance/?first={first}&last={last}").status_code == 200
        assert client.get(f"/dispersion/?first={first}&last={last}").status_code == 200
        assert client.get(f"/scope/?q=made%3D{first}..{last}").status_code == 200
        bad = f"bad={story.hulls['held']}&first={first}&last={last}"
        # Nobody at risk in such a span is one clear sentence.
        assert client.get(f"/common-cause/?{bad}").status_code in (200, 400)


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/api/genealogy/back/GHM-T430-999999/", 404),
        ("/api/genealogy/sideways/N-0417/", 404),
        ("/api/genealogy/back/N-0417/?as_known_on=soon", 400),
        ("/api/scope/", 400),
        ("/api/scope/?q=luck%3Dbad", 400),
        ("/api/scope/?q=holds%3Dnobody", 404),
        ("/api/balances/?first=soon", 400),
        ("/api/balances/?order=nobody", 404),
        ("/api/common-cause/", 400),
        ("/api/cases/?as_known_on=soon", 400),
    ],
)
def test_errors_are_said_as_data(story: Told, signed_in: Callable[[str], Client], address: str, status: int) -> None:
    answer = signed_in("P-08").get(address, headers={"Accept": "application/json"})
    assert answer.status_code == status
    assert answer.json()["status"] == status and answer.json()["what"]


def test_nobody_signed_on_reads_nothing(story: Told) -> None:
    for address in ("/api/schema/", "/api/rules/", "/api/genealogy/back/N-0417/"):
        assert Client().get(address, headers={"Accept": "application/json"}).status_code == 401
        assert Client().post(address, headers={"Accept": "application/json"}).status_code == 405


def test_the_description_names_every_field_that_is_answered(story: Told, signed_in: Callable[[str], Client]) -> None:
    """OpenAPI 3: every field of a real answer stands in the description, and none besides."""
    client = signed_in("P-08")
    described = yaml.safe_load(client.get("/api/schema/").content)
    assert described["openapi"].startswith("3.")
    shapes = described["components"]["schemas"]
    answer = json.loads(client.get(f"/api/genealogy/back/{story.hulls['no foam']}/").content)
    assert answer.keys() == shapes["GenealogyAnswer"]["properties"].keys()
    for part, shape in (("nodes", "GenealogyNode"), ("edges", "GenealogyEdge"), ("gaps", "GenealogyGap")):
        assert answer[part] and all(row.keys() == shapes[shape]["properties"].keys() for row in answer[part])
    rules = client.get("/api/rules/").json()
    assert all(row.keys() == shapes["RuleShape"]["properties"].keys() for row in rules["rules"])
