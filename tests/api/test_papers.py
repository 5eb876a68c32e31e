"""Papers asked for, looked at and taken by another system."""

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.test import Client

from tests.exports.conftest import papers
from tests.pages.story import Told
from trace import tasks
from trace.models import Event

__all__ = ["papers"]
QUALITY, PLANNER, OPERATOR = "P-06", "P-09", "P-01"


def test_a_paper_is_asked_for_looked_at_and_taken(
    story: Told, papers: Path, signed_in: Callable[[str], Client]
) -> None:
    client = signed_in(QUALITY)
    asked = {"kind": "scope", "question": {"q": ["holds=N-0417"]}, "form": "json"}
    answer = client.post("/api/papers/", asked, content_type="application/json")
    assert answer.status_code == 202
    address = f"/api/papers/{answer.json()['id']}/"
    assert (answer.json()["state"], answer.json()["question"]) == ("waiting", {"q": ["holds=N-0417"]})
    assert client.post(address).status_code == 404
    assert tasks.sweep() == 1
    state = client.get(address).json()
    assert state["state"] == "ready"
    data = b"".join(client.post(address))
    assert hashlib.sha256(data).hexdigest() == state["digest"] == state["fingerprint"]
    assert Event.objects.filter(kind="paper_taken", person=QUALITY).count() == 1
    assert client.get("/api/papers/").json() == [state]
    # Of a scope with words that a planner does not see there is nothing for a planner.
    assert signed_in(PLANNER).get(address).status_code == 404
    assert signed_in(OPERATOR).get("/api/papers/").status_code == 403


def test_what_is_no_question_is_refused_in_a_sentence(
    story: Told, papers: Path, signed_in: Callable[[str], Client]
) -> None:
    client = signed_in(QUALITY)
    wrong: list[Any] = [
        [], {"kind": "hull"}, {"kind": "hull", "question": {}}, {"kind": "x", "question": {"number": "1"}},
        {"kind": "hull", "question": {"number": "1"}, "as_known_on": "tomorrow"},
    ]  # fmt: skip
    for asked in wrong:
        answer = client.post("/api/papers/", asked, content_type="application/json")
        assert answer.status_code == 400, asked
        assert answer.json()["what"]
