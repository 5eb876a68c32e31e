"""Recalls: a notice that is whole, replies by plate or by count, how much is put right, against a plain book."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest

from tests.cast import DEPUTY, MORNING, PACKER, QUALITY, SO_RED, Cast, rows_of
from tests.codes.test_recall_notice import GOOD
from tests.recording.test_containment import old, uids
from trace.genealogy import recall as reading
from trace.genealogy.containment import listed
from trace.genealogy.recall import (
    OUTCOMES,
    RECALLED,
    Recall,
    answered,
    by_consignee,
    gone_by_consignee,
    recalls,
    replies,
)
from trace.readmodels.rebuild import differences
from trace.recording.acts.holds import Hold
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.recalls import BeginRecall, ReplyToRecall, faults_of

TEXTS: Any = GOOD
NOTICE = BeginRecall(
    question=("model=T430",), known_on="2026-06-08T06:00:00.000000Z", discovered="2026-06-07",
    remedies=("repair", "refund"), checked=("maker",), **TEXTS,
)  # fmt: skip


def gone(cast: Cast, *serials: str) -> None:
    """These hulls packed each by itself and loaded for one consignee."""
    packs = tuple(cast.scan(Pack(order=SO_RED, hulls=(one,)), person=PACKER).made["codes"][0] for one in serials)
    cast.scan(Dispatch(order=SO_RED, packs=packs, consignee="WHARFE", vehicle="PA 12"), person=PACKER)


def begun(cast: Cast, *serials: str, **more: Any) -> Recall:
    cast.scan(replace(NOTICE, hulls=uids(*serials), **more), person=QUALITY)
    return recalls()[0]


def reply(cast: Cast, of: Recall, results: dict[str, str] | None = None, *, expect: str = "", **more: Any) -> Any:
    command = ReplyToRecall(recall=of.uid, **{"consignee": "WHARFE", "results": results or {}, **more})
    return cast.scan(command, person=QUALITY, expect=expect)


def stands(of: Recall) -> reading.Answered:
    plates = gone_by_consignee(listed(of.uid, role=RECALLED))
    return by_consignee(plates, replies(of))["WHARFE"]


def test_a_recall_knows_who_was_sent_what_and_what_they_answered(cast: Cast) -> None:
    one, two, three, here = (old(cast, n) for n in range(1, 5))
    gone(cast, one, two, three)
    of = begun(cast, one, two, three, here)
    ids = listed(of.uid, role=RECALLED)
    assert gone_by_consignee(ids) == {"WHARFE": [one, two, three]}
    sent = reading.sent(ids)
    assert len(sent) == 3
    assert {(left.order, left.vehicle, bool(left.pack)) for left in sent.values()} == {(SO_RED, "PA 12", True)}
    assert reply(cast, of, {one: "corrected", two: "found"}, contact="M. Ostler, 01632 960001").outcome == "accepted"
    assert (stands(of).of("corrected"), stands(of).of("found"), stands(of).open) == (1, 1, 1)
    reply(cast, of, {two: "destroyed"})
    assert (stands(of).of("corrected"), stands(of).of("destroyed"), stands(of).of("found")) == (1, 1, 0)
    # Of hulls whose plates nobody read they are counted.
    reply(cast, of, counts={"not found": "1"})
    assert (stands(of).of("not found"), stands(of).open) == (1, 0)
    assert differences() == []


def test_names_and_free_words_stand_in_notes_and_not_in_the_records(cast: Cast) -> None:
    one = old(cast, 1)
    gone(cast, one)
    of = begun(cast, one)
    reply(cast, of, {one: "found"}, contact="M. Ostler", remark="In the shed of her brother")
    bodies = "".join(body for (body,) in rows_of("SELECT body FROM event WHERE kind LIKE 'recall%%'"))
    assert not [word for word in ("Ostler", "brother", "trapped", "0800 000") if word in bodies]
    scans = "".join(raw for (raw,) in rows_of("SELECT raw || answer FROM scan WHERE raw LIKE '%%recall_%%'"))
    assert not [word for word in ("Ostler", "brother", "trapped", "0800 000") if word in scans]
    texts = {text for (text,) in rows_of("SELECT text FROM note")}
    assert {"M. Ostler", "In the shed of her brother", GOOD["hazard"]} <= texts


@pytest.mark.parametrize(
    ("changed", "sentences"),
    [
        ({"hazard": "In rare cases the seat tears out."}, ["plays the risk down: “In rare cases”"]),
        ({"headline": "Voluntary recall"}, ["must read “Product safety recall”", "plays the risk down: “Voluntary”"]),
        ({"contact": "", "picture": ""}, ["The picture is missing.", "Whom to ask is missing."]),
        ({"remedies": ()}, ["Offer at least two of repair, replacement and refund"]),
        ({"discovered": "last week"}, ["Say on which day the defect was found"]),
        ({"discovered": "2031-01-01"}, ["on a day that has not come"]),
    ],
)
def test_an_incomplete_notice_or_one_that_plays_down_is_refused_with_every_fault(
    cast: Cast, changed: dict[str, Any], sentences: list[str]
) -> None:
    command = replace(NOTICE, hulls=uids(old(cast, 1)), **changed)
    answer = cast.scan(command, person=QUALITY, expect="NOTICE-FAULTY")
    assert answer.code == "NOTICE-FAULTY"
    assert all(sentence in answer.why for sentence in sentences), answer.why
    assert recalls() == []
    assert faults_of(NOTICE) == []


def test_a_recall_for_a_hold_lists_what_the_hold_is_on_then(cast: Cast) -> None:
    before = cast.hull("GHM-T430-004401")
    hold = cast.scan(Hold(code=cast["red"], rule="stop-use", reason="seat"), person=QUALITY).made["holds"][0]
    cast.scan(replace(NOTICE, hold=hold, question=(), known_on=""), person=DEPUTY)
    of = recalls()[0]
    assert listed(of.uid, role=RECALLED) == [
        row[0] for row in rows_of("SELECT hull FROM serial_state WHERE text = %s", before)
    ]
    nothing = cast.scan(replace(NOTICE, hold="x"), person=QUALITY, expect="RECALL-NO-HOLD")
    assert nothing.code == "RECALL-NO-HOLD"
    assert cast.scan(NOTICE, person=QUALITY, expect="RECALL-NOTHING").code == "RECALL-NOTHING"


def test_what_a_reply_cannot_say_is_refused(cast: Cast) -> None:
    one, two, here = (old(cast, n) for n in (1, 2, 3))
    gone(cast, one, two)
    of = begun(cast, one, two, here)
    unknown = replace(of, uid="01900000-0000-7000-8000-000000000000")
    assert reply(cast, unknown, {one: "found"}, expect="RECALL-UNKNOWN").code == "RECALL-UNKNOWN"
    assert reply(cast, of, expect="REPLY-SILENT").code == "REPLY-SILENT"
    assert reply(cast, of, {one: "found"}, consignee="CALDER", expect="REPLY-NOBODY").code == "REPLY-NOBODY"
    assert reply(cast, of, {here: "found"}, expect="REPLY-NOT-THEIRS").code == "REPLY-NOT-THEIRS"
    assert reply(cast, of, {one: "approved"}, expect="AMOUNT-UNREADABLE").code == "AMOUNT-UNREADABLE"
    assert reply(cast, of, counts={"found": "two"}, expect="AMOUNT-UNREADABLE").code == "AMOUNT-UNREADABLE"
    assert reply(cast, of, {one: "found"}, day="9 June", expect="AMOUNT-UNREADABLE").code == "AMOUNT-UNREADABLE"
    assert reply(cast, of, {one: "found"}, counts={"found": "2"}, expect="REPLY-OVER").code == "REPLY-OVER"
    assert reply(cast, of, counts={"found": "2"}).outcome == "accepted"
    # One of those that were counted is named now: how many are not named is said anew.
    assert reply(cast, of, {one: "corrected"}, expect="REPLY-OVER").code == "REPLY-OVER"
    assert reply(cast, of, {one: "corrected"}, counts={"found": "1"}).outcome == "accepted"


def plain(plates: list[str], sheets: list[reading.Reply]) -> dict[str, int]:
    """How many hulls have each outcome, by going through the sheets plate by plate."""
    totals = dict.fromkeys(OUTCOMES, 0)
    for plate in plates:
        said = [sheet.results[plate] for sheet in sheets if plate in sheet.results]
        if said:
            totals[said[-1]] += 1
    counted = [sheet.counts for sheet in sheets if sheet.counts]
    for outcome, n in (counted[-1] if counted else {}).items():
        totals[outcome] += n
    return totals


def test_replies_in_any_number_come_to_what_a_plain_book_says() -> None:
    random = Random(7)
    for _n in range(200):
        plates = [f"P{n}" for n in range(random.randrange(1, 9))]
        sheets = []
        for _sheet in range(random.randrange(5)):
            named = random.sample([*plates, "stranger"], random.randrange(len(plates) + 1))
            counts = {o: random.randrange(4) for o in random.sample(OUTCOMES, random.randrange(3))}
            sheets.append(reading.Reply(
                "WHARFE", MORNING, "P-06", "", {plate: random.choice(OUTCOMES) for plate in named}, counts, "", "",
            ))  # fmt: skip
        found = answered(plates, sheets)
        assert {outcome: found.of(outcome) for outcome in OUTCOMES} == plain(plates, sheets)
        assert found.open == max(0, len(plates) - sum(plain(plates, sheets).values()))


def test_as_known_before_a_reply_it_is_not_there(cast: Cast) -> None:
    one = old(cast, 1, consignee="WHARFE", gone="2026-05-04")
    of = begun(cast, one)
    before = cast.clock()
    reply(cast, of, {one: "corrected"})
    assert len(replies(of, before)) == 0
    assert len(replies(of)) == 1
    [left] = reading.sent(listed(of.uid, role=RECALLED)).values()
    assert (left.day, left.pack) == ("2026-05-04", "")
