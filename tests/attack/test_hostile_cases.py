"""The forms of complaints and cases, with whatever a form can carry: a page with a sentence, never a failure."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from tests.attack.test_hostile_forms import HOSTILE, MARK
from tests.pages.conftest import signed_in, story, story_database
from tests.pages.story import Told
from trace.codes import uuid7
from trace.readmodels.rebuild import differences

__all__ = ["signed_in", "story", "story_database"]
FIELDS = (
    "q", "hull", "plate", "product", "model", "colour", "month", "symptom", "spot", "sold", "failed", "reported",
    "hours", "months", "through", "buyer", "contact", "story", "name", "complaint", "case", "cause", "stands", "reason",
    "code", "rule", "day", "what", "result", "by_whom", "consignee", "way", "answer", "closing_cause", "hulls",
    "hull_found",
)  # fmt: skip
DO = {
    "/complaint/1/": ("tie", "close", "erase", "group", "open_case"),
    "/case/1/": ("group", "ungroup", "suspect", "scope", "hold", "test", "decide", "tell", "close", "reopen"),
}


@pytest.fixture(autouse=True)
def photo_folder(settings: Any, tmp_path: object) -> None:
    settings.PHOTO_FOLDER = tmp_path


def test_whatever_is_sent_a_page_answers(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    client.post("/complaint/take/", {"scan_id": str(uuid7())})
    client.post("/cases/", {"scan_id": str(uuid7()), "name": "first"})
    steps = [(address, do) for address, dos in DO.items() for do in dos]
    for n, (name, value) in enumerate(HOSTILE.items()):
        sent = dict.fromkeys(FIELDS, value)
        asked: list[Any] = [
            client.post("/complaint/take/", {**sent, "scan_id": str(uuid7())}),
            client.get("/complaint/take/", dict.fromkeys(("q", "hull", "month", "model"), value)),
        ]
        # Each step meets some of the values, and each value some of the steps.
        for address, do in steps[n % 8 :: 8]:
            asked.append(client.post(address, {**sent, "do": do, "scan_id": str(uuid7())}))
        for answer in asked:
            assert answer.status_code in (200, 302, 400, 404, 409), (name, answer.request["PATH_INFO"])
            assert MARK not in answer.content.decode()
    for address in ("/cases/", "/case/1/", "/complaint/2/", "/open/complaints/", "/open/cases/"):
        page = client.get(address)
        assert page.status_code == 200 and MARK not in page.content.decode()
    for address in (f"/case/{10**20}/", f"/complaint/{10**20}/", f"/complaint/1/photo/{10**20}/"):
        assert client.get(address).status_code == 404
    for address in (f"/case/{10**20}/", f"/complaint/{10**20}/"):
        answer = client.post(address, {"do": "close", "scan_id": str(uuid7())})
        assert answer.status_code == 404
    assert differences() == []
