"""A calibration at the desk: entered beside its list, drawn on the instrument's page, followed up with one press."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from tests.pages.story import Told
from trace.codes import uuid7
from trace.demo import plant as invented
from trace.genealogy.calibrations import calibrations
from trace.recording.acts.setup import Define
from trace.recording.floor.scopes_on_hold import live_scopes

LIST, QUALITY, MAINTENANCE, LEAD = "/open/instruments/", "P-06", "P-05", "P-03"
CLASS_III = {"accuracy": "III", "interval": "0.01"}


def send(client: Client, act: str, of: str = "", **boxes: str) -> Any:
    return client.post(LIST, {"act": act, "of": of, "scan_id": str(uuid7()), **boxes})


def judged_by_class(story: Told) -> None:
    body = {**invented.INSTRUMENTS["W-3"], **CLASS_III}
    story.plant.scan(Define(kind="instrument", key="W-3", body=body), person="P-09")


def low(**more: str) -> dict[str, str]:
    return {
        "instrument": "W-3", "certificate": "KL-2231", "points": "10.000 9.82 10.00",
        "uncertainty": "0.003", "k": "2", "with": "F1 set 12", "done_by": "Tolby Weighing", "due": "2031-02-10", **more,
    }  # fmt: skip


def test_one_found_off_is_listed_and_what_it_measured_is_held(
    story: Told, signed_in: Callable[[str], Client]
) -> None:  # fmt: skip
    judged_by_class(story)
    client = signed_in(QUALITY)
    assert client.get(LIST).context["page"].lines == ()
    said = send(client, "calibrate", **low())
    assert said.status_code == 200
    assert "The scale W-3 was found -0.180 kg off at 10.000 kg; its limit is 0.02 kg." in said.context["page"].said
    [line] = said.context["page"].lines
    assert (line.what, line.detail) == (
        "Found outside its limit: W-3", "-0.180 kg off at 10.000 kg; its limit is 0.02 kg",
    )  # fmt: skip
    assert ("Instruments", 1) in {(one.word, one.count) for one in client.get("/").context["home"].waits}
    sheet = client.get("/unit/W-3/").content.decode()
    assert "Calibrations: error against limit" in sheet and "outside; nobody has followed it up" in sheet
    assert "-0.180, left +0.000" in sheet and "KL-2231, Tolby Weighing, F1 set 12, uncertainty 0.003 kg, k = 2" in sheet
    form = client.get(line.act_url.partition("#")[0]).context["page"].form
    assert (form.act, form.before[0].who) == ("follow", "Priya Ashdown")
    assert form.hint.startswith("Hulls it measured since its last good check: ")
    lacks = send(client, "follow", line.key, does="hold")
    assert lacks.context["page"].form.faults == ("Why: this is needed.",)
    held = send(client, "follow", line.key, does="hold", why_words="weigh each hull")
    assert held.context["page"].lines == ()
    [one] = calibrations("W-3")
    assert live_scopes()[-1].words == one.cause
    assert "outside; followed up" in client.get("/unit/W-3/").content.decode()


def test_it_is_followed_up_with_a_reason_or_taken_back(story: Told, signed_in: Callable[[str], Client]) -> None:
    judged_by_class(story)
    client = signed_in(QUALITY)
    send(client, "calibrate", **low())
    [line] = client.get(LIST).context["page"].lines
    assert send(client, "follow", line.key, does="nothing", why_words="never used").context["page"].lines == ()
    [one] = calibrations("W-3")
    assert one.followed and not live_scopes()
    send(client, "calibrate", **low(certificate="KL-2232"))
    [line] = client.get(LIST).context["page"].lines
    send(client, "follow", line.key, does="wrong", why_words="read off another scale")
    assert [one.says["certificate"] for one in calibrations("W-3")] == ["KL-2231"]
    assert send(client, "follow", line.key, does="wrong", why_words="again").status_code == 400


def test_what_is_overdue_waits_and_its_form_stands_beside_it(
    story: Told, signed_in: Callable[[str], Client]
) -> None:  # fmt: skip
    yesterday = timezone.localdate() - timedelta(days=2)
    for key, due in (("G-2", {"calibration_due": f"{yesterday}"}), ("LG-4", {})):
        body = {**invented.INSTRUMENTS[key], **due}
        if not due:
            body.pop("calibration_due")
        story.plant.scan(Define(kind="instrument", key=key, body=body), person="P-09")
    client = signed_in(QUALITY)
    page = client.get(LIST).context["page"]
    assert [line.what for line in page.lines] == ["Overdue for calibration: LG-4", "Overdue for calibration: G-2"]
    assert "no calibration is recorded" in page.lines[0].detail
    form = client.get(page.lines[1].act_url.partition("#")[0]).context["page"].form
    assert (form.act, form.key, form.fields[0].value) == ("calibrate", "G-2", "G-2")
    assert {field.unit for field in form.fields if field.name == "points"} == {"mm"}
    sent = {"instrument": "G-2", "certificate": "U-9", "points": "5.00 5.02", "due": "2031-01-05"}
    wrong = send(client, "calibrate", "G-2", **sent, done="yesterday")
    assert wrong.status_code == 409 and "write it as 2026-02-10 07:20" in wrong.context["page"].form.faults[0]
    assert wrong.context["page"].form.fields[1].value == "U-9", "what was typed stays"
    done = send(client, "calibrate", "G-2", **sent, done=f"{timezone.localtime() - timedelta(hours=3):%Y-%m-%d %H:%M}")
    assert [line.key for line in done.context["page"].lines] == ["LG-4"]
    [one] = calibrations("G-2")
    assert one.recorded - one.happened > timedelta(hours=2) and one.found is None


def test_maintenance_enters_and_does_not_decide(story: Told, signed_in: Callable[[str], Client]) -> None:
    judged_by_class(story)
    client = signed_in(MAINTENANCE)
    assert client.get(LIST).context["page"].form.act == "calibrate"
    assert send(client, "calibrate", **low()).status_code == 200
    [line] = client.get(LIST).context["page"].lines
    assert line.act == "" and line.do == ""
    assert send(client, "follow", line.key, does="nothing", why_words="x").status_code == 403
    assert signed_in(LEAD).get(LIST).context["page"].form is None
