"""One scan, one answer, one event: replays, twins, other content under one id, and facts told after an ask."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from uuid import UUID

import pytest
from django.db import transaction

from plant.errors import SentBefore
from tests.below import erase
from tests.cast import LEAD, OPERATOR, QUALITY, WO_RED, Cast, rows_of
from trace.chain import digest
from trace.codes import uuid7
from trace.recording.acts.holds import Hold
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer
from trace.recording.commands import By, Command
from trace.recording.record import record


def weigh(cast: Cast, **more: str) -> Weigh:
    said = {"order": WO_RED, "layer": "skin", "box": cast["red"], "tub": cast["tubs"][0], "scale": "W-3"}
    said["gross"] = "12.20"
    return Weigh(**(said | more))


def by(cast: Cast, scan: UUID, **more: object) -> By:
    now = cast.clock()
    return By(**({"person": OPERATOR, "station": "weighing", "device": "t1", "scan_id": scan, "recorded": now} | more))  # type: ignore[arg-type]


def events() -> int:
    return int(rows_of("SELECT count(*) FROM event")[0][0])


def scans(scan: UUID) -> list[tuple[str, str]]:
    return rows_of("SELECT mode, outcome FROM scan WHERE client_id = %s ORDER BY id", scan)


# What is sent and how it is answered first: accepted, refused, flagged.
SENT: dict[str, tuple[dict[str, str], str, str]] = {
    "accepted": ({}, "asks", "accepted"),
    "refused": ({"gross": "13.00"}, "asks", "refused"),
    "refused for what cannot be read": ({"gross": "twelve"}, "asks", "refused"),
    "told": ({}, "tells", "accepted"),
    "told though refused": ({"gross": "13.00"}, "tells", "flagged"),
    "told though it cannot be placed": ({"gross": "twelve"}, "tells", "flagged"),
}


@pytest.mark.parametrize(("said", "mode", "outcome"), SENT.values(), ids=list(SENT))
def test_a_replay_has_the_first_answer(cast: Cast, said: dict[str, str], mode: str, outcome: str) -> None:
    scan = uuid7()
    first = record(weigh(cast, **said), by(cast, scan, mode=mode))
    before = events()
    # In the meantime the tub is full: a fresh look would say something else.
    for _ in range(2):
        again = record(weigh(cast, **said), by(cast, scan, mode=mode))
        assert again.text() == first.text()
        assert again.replayed
    assert (first.outcome, first.replayed) == (outcome, False)
    assert scans(scan) == [(mode, outcome)]
    assert events() == before
    assert rows_of("SELECT answer FROM scan WHERE client_id = %s", scan) == [(first.text(),)]


def test_a_replay_may_be_sent_later_and_by_another_way(cast: Cast) -> None:
    scan = uuid7()
    first = record(weigh(cast), by(cast, scan, happened=cast.clock()))
    again = record(weigh(cast), by(cast, scan, happened=cast.clock(), skew_ms=40, seq=None))
    assert again.text() == first.text()


@pytest.mark.parametrize(
    ("said", "who"),
    [
        ({"gross": "12.21"}, {}),
        ({"layer": "inner"}, {}),
        ({}, {"person": "P-02"}),
        ({}, {"overrides": {"OVERDRAW": "x"}}),
    ],
    ids=["amount", "layer", "person", "override"],
)
def test_other_content_is_refused_and_kept(cast: Cast, said: dict[str, str], who: dict[str, object]) -> None:
    scan = uuid7()
    first = record(weigh(cast), by(cast, scan))
    with pytest.raises(SentBefore):
        record(weigh(cast, **said), by(cast, scan, **who))
    kept = rows_of("SELECT device, raw, fingerprint FROM scan_conflict WHERE client_id = %s", scan)
    assert len(kept) == 1
    assert kept[0][0] == "t1"
    assert events() == rows_of("SELECT count(DISTINCT event) FROM scan WHERE event IS NOT NULL")[0][0]
    assert record(weigh(cast), by(cast, scan)).text() == first.text()


def test_other_words_are_other_content_until_they_are_erased(cast: Cast) -> None:
    scan = uuid7()
    hold = Hold(code=cast["red"], rule="quality", reason="density of the pellets")
    who = by(cast, scan, person=QUALITY)
    record(hold, who)
    assert record(hold, who).replayed
    with pytest.raises(SentBefore):
        record(replace(hold, reason="density of the powder"), who)
    erase(hold.reason)
    assert record(replace(hold, reason="whatever it was"), who).replayed


def test_a_fingerprint_does_not_give_words_away(cast: Cast) -> None:
    """Two scans that differ in their words only have one fingerprint: nobody can try words against it."""
    for scan, reason in ((uuid7(), "Ines Orrell said so"), (uuid7(), "seen by myself")):
        record(Hold(code=cast["red"], rule="quality", reason=reason), by(cast, scan, person=QUALITY))
    assert len(set(rows_of("SELECT fingerprint FROM scan ORDER BY id DESC LIMIT 2"))) == 1
    assert digest(bytes(16), "x") != digest(bytes([1]) * 16, "x")


def test_a_fact_told_after_a_refused_ask_is_one_flagged_event(cast: Cast) -> None:
    scan = uuid7()
    asked = record(weigh(cast, gross="13.00"), by(cast, scan))
    before = events()
    told = record(weigh(cast, gross="13.00"), by(cast, scan, mode="tells", happened=cast.clock()))
    assert (asked.outcome, told.outcome, told.code) == ("refused", "flagged", "CHARGE-HEAVY")
    assert events() == before + 1
    assert scans(scan) == [("asks", "refused"), ("tells", "flagged")]
    # Either way it is sent again, that event is its answer.
    for mode in ("tells", "asks"):
        assert record(weigh(cast, gross="13.00"), by(cast, scan, mode=mode)).text() == told.text()
    assert events() == before + 1


def test_a_fact_of_something_else_than_was_asked_is_refused_and_kept(cast: Cast) -> None:
    scan = uuid7()
    asked = record(weigh(cast, gross="13.00"), by(cast, scan))
    before = events()
    with pytest.raises(SentBefore):
        record(weigh(cast, gross="12.20", tub=cast["tubs"][1]), by(cast, scan, mode="tells"))
    assert (events(), rows_of("SELECT count(*) FROM scan_conflict")) == (before, [(1,)])
    assert record(weigh(cast, gross="13.00"), by(cast, scan)).text() == asked.text()


@pytest.mark.parametrize("modes", [("asks", "tells"), ("tells", "asks")])
def test_what_was_recorded_is_not_recorded_again_in_the_other_mode(cast: Cast, modes: tuple[str, str]) -> None:
    """The answer to an ask was lost, so the tablet tells it later: still one event."""
    scan = uuid7()
    first = record(weigh(cast), by(cast, scan, mode=modes[0]))
    before = events()
    again = record(weigh(cast), by(cast, scan, mode=modes[1], happened=cast.clock()))
    assert again.text() == first.text()
    assert events() == before


def test_one_number_of_an_installation_is_one_scan(cast: Cast) -> None:
    install = uuid7()
    record(weigh(cast), by(cast, uuid7(), install=install, seq=7))
    before = events()
    with pytest.raises(SentBefore):
        record(weigh(cast, tub=cast["tubs"][1]), by(cast, uuid7(), install=install, seq=7))
    assert events() == before
    assert rows_of("SELECT count(*) FROM scan_conflict") == [(1,)]


def test_devices_have_ids_of_their_own(cast: Cast) -> None:
    scan = uuid7()
    one = record(weigh(cast), by(cast, scan))
    other = record(weigh(cast, tub=cast["tubs"][1]), by(cast, scan, device="t2"))
    assert one.made["units"] != other.made["units"]


def answered(command: Command, who: By) -> Answer:
    with transaction.atomic():
        return record(command, who)


def test_twins_sent_at_once_are_one_event(told: Cast, at_once: Callable[..., list[Answer]]) -> None:
    for mode, gross in (("asks", "12.20"), ("tells", "13.00"), ("asks", "13.00")):
        scan, before = uuid7(), events()
        who = by(told, scan, person=LEAD, mode=mode)
        command = weigh(told, gross=gross, tub=told["tubs"][0 if gross == "12.20" else 1])
        answers = at_once(*[partial(record, command, who)] * 4)
        assert len({a.text() for a in answers}) == 1
        assert sorted(a.replayed for a in answers) == [False, True, True, True]
        assert events() - before == (0 if (mode, gross) == ("asks", "13.00") else 1)
        assert len(scans(scan)) == 1
