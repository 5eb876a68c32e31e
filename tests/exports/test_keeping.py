"""A paper from the press on a hull's page to the file in the hand: made by the worker, kept, proved, recorded."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from uuid import UUID

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from tests.pages.story import Told
from trace import tasks
from trace.codes import uuid7
from trace.exports import keeping
from trace.exports.asked import PaperError
from trace.models import Event, Job, KeptPaper

SignedIn = Callable[[str], Client]
QUALITY, AUDITOR, PLANNER, OPERATOR = "P-06", "P-08", "P-09", "P-01"


def test_an_auditor_has_the_report_of_a_hull_with_two_presses(story: Told, papers: Path, signed_in: SignedIn) -> None:
    client, serial = signed_in(AUDITOR), story.hulls["bag change"]
    assert 'name="kind" value="hull"' in client.get(f"/hull/{serial}/").content.decode()
    answer = client.post("/papers/", {"kind": "hull", "number": serial, "form": "pdf", "as_known_on": ""})
    page = client.get(answer["Location"])
    assert page["Refresh"] == "1"
    assert "waiting for the worker" in page.content.decode()
    assert tasks.sweep() == 1
    page = client.get(answer["Location"])
    assert "Refresh" not in page
    assert "Take the file" in page.content.decode()
    scan_id = page.context["scan_id"]
    file = client.post(answer["Location"], {"scan_id": scan_id})
    data = b"".join(file)
    assert data.startswith(b"%PDF-")
    assert file["Content-Disposition"] == f'attachment; filename="HR-{KeptPaper.objects.get().id}-{serial}.pdf"'
    kept = KeptPaper.objects.get()
    assert kept.digest == hashlib.sha256(data).hexdigest()
    event = Event.objects.filter(kind="paper_taken").get()
    says = json.loads(event.body)["says"]
    assert (event.person, says["digest"], says["fingerprint"]) == (AUDITOR, kept.digest, kept.fingerprint)
    assert says["question"] == [f"number={serial}"]
    # Pressed twice it was taken once.
    b"".join(client.post(answer["Location"], {"scan_id": scan_id}))
    assert Event.objects.filter(kind="paper_taken").count() == 1
    assert f"HR-{kept.id}" in client.get("/papers/").content.decode()


def test_the_same_question_finds_the_paper_that_is_kept(story: Told, papers: Path) -> None:
    words = {"number": story.hulls["sled"]}
    one = keeping.ask("hull", words, "json", None, QUALITY, ["quality"])
    assert keeping.ask("hull", words, "json", one.as_known_on, QUALITY, ["quality"]).id == one.id
    tasks.sweep()
    one.refresh_from_db()
    other = keeping.ask("hull", words, "json", one.as_known_on, AUDITOR, ["auditor"])
    assert other.id != one.id
    tasks.sweep()
    other.refresh_from_db()
    # Of what two may see alike the data, and so the file, is the same, whoever asked and when.
    assert (other.digest, other.fingerprint) == (one.digest, one.digest)


def test_a_file_that_was_lost_is_made_again_with_the_same_bytes(story: Told, papers: Path) -> None:
    kept = keeping.ask("hull", {"number": story.hulls["held"]}, "pdf", None, QUALITY, ["quality"])
    tasks.sweep()
    kept.refresh_from_db()
    digest, path = kept.digest, keeping.path_of(kept.digest)
    path.unlink()
    keeping.make_now(kept)
    kept.refresh_from_db()
    assert kept.digest == digest
    assert path.is_file()


def test_what_nobody_knows_is_said_and_not_tried_for_ever(story: Told, papers: Path, signed_in: SignedIn) -> None:
    kept = keeping.ask("hull", {"number": "GHM-T430-999999"}, "pdf", None, QUALITY, ["quality"])
    tasks.sweep()
    kept.refresh_from_db()
    assert "Nothing is known" in kept.error
    assert not Job.objects.exclude(state="done").filter(kind=keeping.KIND).exists()
    assert "It was not made." in signed_in(QUALITY).get(f"/papers/{kept.id}/").content.decode()
    with pytest.raises(PaperError, match="lacks its number"):
        keeping.ask("hull", {"number": " "}, "pdf", None, QUALITY, ["quality"])
    with pytest.raises(PaperError, match="no such paper"):
        keeping.ask("hull", {"number": "x"}, "odt", None, QUALITY, ["quality"])


def test_each_sees_the_papers_that_hold_no_more_than_they_may_see(
    story: Told, papers: Path, signed_in: SignedIn
) -> None:
    kept = keeping.ask("hull", {"number": story.hulls["gone"]}, "pdf", None, QUALITY, ["quality"])
    scope = keeping.ask("scope", {"q": "holds=N-0417"}, "pdf", None, QUALITY, ["quality"])
    planner = signed_in(PLANNER)
    assert planner.get(f"/papers/{kept.id}/").status_code == 403
    assert f"/papers/{kept.id}/" not in planner.get("/papers/").content.decode()
    assert signed_in(QUALITY).get(f"/papers/{scope.id}/").status_code == 200
    assert signed_in(OPERATOR).get("/papers/").status_code == 403
    assert signed_in(QUALITY).get("/papers/999999/").status_code == 404
    assert signed_in(QUALITY).post("/papers/", {"kind": "hull", "number": ""}).status_code == 400


def test_the_command_makes_and_takes_by_the_same_record(story: Told, papers: Path, tmp_path: Path) -> None:
    to = tmp_path / "lot.xlsx"
    call_command("paper", "lot", "number=N-0417", "--form", "xlsx", "--by", QUALITY, "--to", str(to))
    kept = KeptPaper.objects.get()
    assert hashlib.sha256(to.read_bytes()).hexdigest() == kept.digest
    assert Event.objects.filter(kind="paper_taken", person=QUALITY).count() == 1
    with pytest.raises(CommandError, match="Nothing is known"):
        call_command("paper", "hull", "number=NONE", "--by", QUALITY, "--to", str(to))
    with pytest.raises(CommandError, match="No person"):
        call_command("paper", "hull", "number=NONE", "--by", "P-99", "--to", str(to))


def test_a_long_paper_delays_no_short_job(story: Told, papers: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Short jobs come before a paper, those that come up since in the middle of it; one paper is out at a time."""
    order: list[str] = []

    def short(name: str) -> None:
        Job.objects.create(id=uuid7(), kind="short", key=name, args={}, made=timezone.now(), touched=timezone.now())

    monkeypatch.setitem(tasks.KINDS, "short", lambda job: order.append(job.key))
    monkeypatch.setattr(keeping, "TOLD_EVERY", 20)
    tell = keeping._tell

    def told(job: UUID, done: int, total: int) -> None:
        tell(job, done, total)
        order.append(f"row {done}")
        if done == 20 and "during" not in order:
            short("during")
            assert len(tasks.due()) == 1, "the other paper waits until this one is done"

    monkeypatch.setattr(keeping, "_tell", told)
    words = {"number": story.hulls["bag change"]}
    kept = [keeping.ask("hull", words, form, None, QUALITY, ["quality"]) for form in ("json", "csv")]
    short("before")
    assert tasks.sweep() == 2
    assert order[:4] == ["before", "row 0", "row 20", "during"]
    assert order[4:] == [f"row {n}" for n in range(40, 20 * len(order[2:]), 20)] and len(order) > 5
    assert [bool(KeptPaper.objects.get(id=one.id).digest) for one in kept] == [True, False]
    assert tasks.sweep() == 1
    assert KeptPaper.objects.get(id=kept[1].id).digest
