"""Training at the desk: what ends soon waits, and is recorded beside the list."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from tests.pages.story import Told
from trace.codes import uuid7
from trace.recording.acts.setup import Define

LIST, LEAD, AUDITOR = "/open/training/", "P-03", "P-08"


def test_what_ends_soon_waits_and_is_signed_off_again(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(LEAD)
    assert client.get(LIST).context["page"].lines == ()
    soon = timezone.localdate() + timedelta(days=9)
    body = {"roles": ["operator"], "trained": {"weighing": f"{soon}", "oven": "2031-01-01"}, "until": None}
    story.plant.scan(Define(kind="person", key="P-50", name="Ada Fenn", body=body), person="P-09")
    [line] = client.get(LIST).context["page"].lines
    assert line.what == "Ada Fenn: weighing" and line.detail.startswith("the sign-off ends on")
    form = client.get(line.act_url.partition("#")[0]).context["page"].form
    assert [field.value for field in form.fields[:4]] == ["P-50", "weighing", "signed off", LEAD]
    sent = {"act": "train", "of": line.key, "person": "P-50", "task": "weighing", "what": "signed off"}
    lacks = client.post(LIST, {**sent, "scan_id": str(uuid7()), "trainer": LEAD})
    assert lacks.status_code == 409 and lacks.context["page"].form.fields[0].value == "P-50"
    done = client.post(LIST, {**sent, "scan_id": str(uuid7()), "trainer": LEAD, "until": "2031-06-30"})
    assert done.context["page"].lines == () and done.context["page"].said.startswith("Ada Fenn, weighing: signed off")
    sheet = client.get("/unit/P-50/").content.decode()
    assert "Training recorded" in sheet and "Mabs Quill" in sheet and "signed off to 30 Jun 2031" in sheet
    assert signed_in(AUDITOR).get(LIST).context["page"].form is None


def test_runs_enough_without_a_sign_off_wait(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in(LEAD)
    plant = story.plant
    plant.scan(Define(kind="setting", key="witnessed runs", body={"value": {"oven": 1}}), person="P-09")
    body: dict[str, Any] = {"roles": ["operator"], "trained": {}, "until": None}
    plant.scan(Define(kind="person", key="P-50", name="Ada Fenn", body=body), person="P-09")
    assert client.get(LIST).context["page"].lines == ()
    sent = {"act": "train", "of": "", "person": "P-50", "task": "oven", "what": "run", "trainer": LEAD}
    said = client.post(LIST, {**sent, "scan_id": str(uuid7()), "machine": "OVEN-1"}).context["page"]
    [line] = said.lines
    assert (line.what, line.detail) == ("Ada Fenn: oven", "1 witnessed runs, not signed off yet")
