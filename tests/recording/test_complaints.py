"""A complaint is told and never refused; its hull is found later and put right; its words can be erased."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from tests.cast import LEAD, OPERATOR, QUALITY, Cast, plate, rows_of
from tests.schema.bytes import assert_bytes_hold_no_words
from trace.genealogy.causes import read_cause
from trace.genealogy.sharing import shared_by
from trace.readmodels.checking import check_all
from trace.readmodels.rebuild import differences
from trace.recording.acts.complaints import CloseComplaint, TakeComplaint, TieHull
from trace.recording.answers import Answer

HALF = "GHM-T430-00?4?1"


def taken(cast: Cast, **fields: Any) -> int:
    answer = cast.scan(TakeComplaint(**fields), person=LEAD, mode="tells")
    return int(answer.made["complaints"][0])


def stands(number: int) -> tuple[Any, ...]:
    """(plate of its hull, case, open) of a complaint."""
    return rows_of(
        """SELECT s.text, c.case, c.open FROM complaint c LEFT JOIN serial_state s ON s.hull = c.hull
            WHERE c.number = %s""",
        number,
    )[0]


def says_of(number: int) -> dict[str, Any]:
    [(body,)] = rows_of("SELECT e.body FROM complaint c JOIN event e ON e.id = c.event WHERE c.number = %s", number)
    says: dict[str, Any] = json.loads(body)["says"]
    return says


def refused(cast: Cast, command: Any, code: str, person: str = QUALITY) -> Answer:
    answer = cast.scan(command, person=person, expect=code)
    assert (answer.outcome, answer.code) == ("refused", code)
    return answer


def test_with_nothing_but_that_it_was_told(cast: Cast) -> None:
    """What is not known is missing, and nothing else is made of it."""
    number = taken(cast)
    assert stands(number) == (None, None, True)
    says = says_of(number)
    assert says["symptom"] == "other"
    assert {name for name, value in says.items() if value not in ("", [])} == {"symptom"}


def test_numbers_follow_each_other_without_a_hole(cast: Cast) -> None:
    refused(cast, TieHull(complaint=1, hull=""), "COMPLAINT-UNKNOWN")
    assert [taken(cast) for _ in range(3)] == [1, 2, 3]


@pytest.mark.parametrize(
    ("field", "typed", "kept"),
    [
        ("symptom", "it is Mr Heron's", "other"), ("symptom", "warp", "warp"),
        ("spot", "S5", "S5"), ("spot", "near the seat, on the left; I think", ""),
        ("sold", "2026-05-02", "2026-05-02"), ("sold", "last summer", ""), ("sold", "2026-02-30", ""),
        ("month", "2026-04", "2026-04"), ("month", "2026", "2026"), ("month", "April", ""),
        ("hours", "61", "61"), ("hours", "61.5", "61.5"), ("hours", "about 60", ""), ("months", "7", "7"),
        ("plate", "ghm-t430-00?4?1", "GHM-T430-00?4?1"), ("plate", "half „gone“", "HALF ?GONE?"),
        ("plate", "A" * 60, "A" * 40), ("colour", "red", "red"), ("colour", "red (Mr Heron)", ""),
    ],
)  # fmt: skip
def test_only_what_has_the_form_of_its_field_enters_the_bytes(cast: Cast, field: str, typed: str, kept: str) -> None:
    fields: dict[str, Any] = {field: typed}
    answer = cast.scan(TakeComplaint(**fields), person=LEAD, mode="tells")
    assert answer.outcome == "accepted"
    assert says_of(answer.made["complaints"][0])[field] == kept


def test_half_a_plate_then_its_hull_then_the_right_one(cast: Cast) -> None:
    cast.hull(plate(1))
    cast.hull(plate(2))
    number = taken(cast, plate=HALF, product="T430", colour="red", symptom="crack at insert", spot="S5")
    cast.scan(TieHull(complaint=number, hull=plate(1)), person=QUALITY)
    assert stands(number) == (plate(1), None, True)
    refused(cast, TieHull(complaint=number, hull=plate(1), reason="again"), "COMPLAINT-TIED-SO")
    # The first tie needs no reason; putting a wrong one right does.
    refused(cast, TieHull(complaint=number, hull=plate(2)), "REASON-MISSING")
    cast.scan(TieHull(complaint=number, hull=plate(2), reason="the photo shows a 2"), person=QUALITY)
    assert stands(number) == (plate(2), None, True)
    cast.scan(TieHull(complaint=number, hull="", reason="nor that one: it is lime"), person=QUALITY)
    assert stands(number) == (None, None, True)
    # Each of the two hulls has it in its history, whatever it was put right to.
    touched = rows_of(
        """SELECT s.text, count(*) FROM event_unit x JOIN serial_state s ON s.hull = x.unit
            WHERE x.role = 'complaint tied' GROUP BY 1 ORDER BY 1"""
    )
    assert touched == [(plate(1), 2), (plate(2), 2)]
    assert differences() == []


def test_who_takes_a_complaint_did_not_work_on_the_hull(cast: Cast) -> None:
    """Whoever is told of a crack, or lays a hold for it, is no cause that hulls share."""
    cast.hull(plate(1))
    before = shared_by(read_cause(["person=P-03"])).count("certain")
    number = taken(cast, hull=plate(1), symptom="warp")
    cast.scan(TieHull(complaint=number, hull="", reason="another"), person=LEAD)
    assert rows_of("SELECT count(*) FROM event WHERE kind = 'complained' AND person = 'P-03'") == [(1,)]
    assert shared_by(read_cause(["person=P-03"])).count("certain") == before


def test_a_plate_that_is_on_no_hull_is_kept(cast: Cast) -> None:
    number = taken(cast, hull=plate(5), plate=plate(5))
    assert stands(number) == (None, None, True)
    assert says_of(number)["hull"] == plate(5)


def test_closed_alone_with_its_cause_and_whether_its_hull_was_found(cast: Cast) -> None:
    cast.hull(plate(1))
    number = taken(cast, symptom="colour")
    why = {"reason": "the dealer's other boats look the same"}
    refused(cast, CloseComplaint(complaint=number, hull="not found", **why), "CLOSING-NO-CAUSE")
    refused(cast, CloseComplaint(complaint=number, cause="wind", hull="not found", **why), "CLOSING-NO-CAUSE")
    refused(cast, CloseComplaint(complaint=number, cause="blend", **why), "CLOSING-NO-HULL")
    refused(cast, CloseComplaint(complaint=number, cause="blend", hull="not found"), "REASON-MISSING")
    answer = refused(cast, CloseComplaint(complaint=number, cause="blend", hull="found", **why), "CLOSING-NOT-TIED")
    assert str(number) in answer.what
    cast.scan(TieHull(complaint=number, hull=plate(1)), person=QUALITY)
    refused(cast, CloseComplaint(complaint=number, cause="blend", hull="not found", **why), "CLOSING-TIED")
    cast.scan(CloseComplaint(complaint=number, cause="blend", hull="found", **why), person=QUALITY)
    assert stands(number) == (plate(1), None, False)
    refused(cast, CloseComplaint(complaint=number, cause="blend", hull="found", **why), "COMPLAINT-CLOSED")
    assert differences() == []


BUYER: dict[str, Any] = {
    "buyer": "Wilf Heron", "contact": "wilf@example.org", "story": "Bought for Oona Heron, cracked in the cold.",
}  # fmt: skip


def test_the_buyer_stands_in_notes_and_is_erased_by_an_event(cast: Cast) -> None:
    number, other = taken(cast, plate=HALF, **BUYER), taken(cast, story="kept")
    [(body,)] = rows_of("SELECT e.body FROM complaint c JOIN event e ON e.id = c.event WHERE c.number = %s", number)
    assert_bytes_hold_no_words(body, ["Heron", "wilf", *BUYER.values()])
    before = rows_of("SELECT id, body, leaf FROM event ORDER BY id")
    call_command("erase_note", "--complaint", str(number), "--by", QUALITY, "--why", "the buyer asked")
    assert rows_of("SELECT id, body, leaf FROM event ORDER BY id")[:-1] == before
    assert rows_of("SELECT count(*) FROM note WHERE text = ANY (%s)", list(BUYER.values())) == [(0,)]
    assert rows_of("SELECT count(*) FROM note WHERE text = 'kept'") == [(1,)]
    erasing = rows_of(
        """SELECT DISTINCT e.kind, e.person, w.text FROM note n JOIN event e ON e.id = n.erased_by
             JOIN note w ON w.digest = e.why"""
    )
    assert erasing == [("erased", QUALITY, "the buyer asked")]
    assert stands(other) == (None, None, True)
    # The records are what their bytes say, and the read models come out of them.
    check = check_all()
    assert (check.differences, check.found) == (0, [])
    assert differences() == []


def test_words_are_erased_once_by_who_may_and_with_a_reason(cast: Cast) -> None:
    number = taken(cast, **BUYER)
    digests = [says_of(number)[name] for name in BUYER]

    def erased(*notes: str, by: str = QUALITY, why: str = "asked") -> None:
        call_command("erase_note", *notes, "--by", by, "--why", why)

    for wrong, said in (
        ({"by": OPERATOR}, "may not erase"), ({"by": "P-99"}, "nobody in the plant data"), ({"why": " "}, "reason"),
    ):  # fmt: skip
        with pytest.raises(CommandError, match=said):
            erased(digests[0], **wrong)
    with pytest.raises(CommandError, match="not there"):
        erased("0" * 64)
    with pytest.raises(CommandError, match="not there"):
        erased()
    assert rows_of("SELECT count(*) FROM note WHERE text IS NULL") == [(0,)]
    erased(digests[0])
    # Together with one that is gone nothing is erased.
    with pytest.raises(CommandError, match="not there"):
        erased(*digests)
    assert rows_of("SELECT digest FROM note WHERE text IS NULL") == [(digests[0],)]


def test_told_twice_it_is_one(cast: Cast) -> None:
    from trace.codes import uuid7

    scan = uuid7()
    first = cast.scan(TakeComplaint(**BUYER), person=LEAD, mode="tells", scan_id=scan)
    again = cast.scan(TakeComplaint(**BUYER), person=LEAD, mode="tells", scan_id=scan)
    assert (again.made, again.replayed) == (first.made, True)
    assert rows_of("SELECT count(*) FROM complaint") == [(1,)]
