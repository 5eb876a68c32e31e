"""A case: complaints looked into together, every step an event, closed with a cause or none found, opened again."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cast import QUALITY, Cast, plate, rows_of
from tests.recording.test_complaints import refused, stands, taken
from trace.readmodels.rebuild import differences
from trace.recording.acts.cases import (
    CloseCase,
    Decide,
    GroupComplaints,
    HoldForCase,
    KeepScope,
    OpenCase,
    RecordTest,
    ReopenCase,
    Suspect,
    TellConsignee,
)
from trace.recording.acts.complaints import CloseComplaint, TieHull
from trace.recording.acts.holds import Hold
from trace.recording.commands import Command

CLOSING = {"cause": "insert", "hulls": "found", "reason": "copper under the thread, seen at the section"}
KNOWN = "2026-06-08T12:00:00+00:00"


def opened(cast: Cast, *complaints: int) -> int:
    answer = cast.scan(OpenCase(name="crack at seat", complaints=complaints), person=QUALITY)
    return int(answer.made["cases"][0])


def is_open(number: int) -> bool:
    return bool(rows_of("SELECT open FROM case_file WHERE number = %s", number)[0][0])


def steps(case: int, hold: str, complaint: int) -> list[Command]:
    """One of each kind of step."""
    return [
        Suspect(case=case, cause=("holds=N-0417",), reason="in all of them"),
        KeepScope(case=case, cause=("holds=N-0417",), known=KNOWN, certain=1, may=0, cannot=0, tree_size=9),
        HoldForCase(case=case, hold=hold, cause=("holds=N-0417",)),
        RecordTest(case=case, day="2026-06-08", what="finish", result="no nickel", by_whom="a laboratory"),
        Decide(case=case, reason="stop the lot"),
        TellConsignee(case=case, consignee="WHARFE", day="2026-06-08", way="telephone", answer="they look"),
        GroupComplaints(case=case, complaints=(complaint,)),
    ]


def test_from_two_complaints_to_a_cause(cast: Cast) -> None:
    cast.hull(plate(1))
    first, second, third = taken(cast, hull=plate(1)), taken(cast), taken(cast)
    case = opened(cast, first, second)
    assert [stands(n)[1] for n in (first, second, third)] == [case, case, None]
    hold = cast.scan(Hold(code=cast["m8b"], reason="copper"), person=QUALITY).made["holds"][0]
    for command in steps(case, hold, third):
        cast.scan(command, person=QUALITY)
    assert stands(third)[1] == case
    cast.scan(GroupComplaints(case=case, complaints=(third,), out=True, reason="another kind"), person=QUALITY)
    assert stands(third) == (None, None, True)
    refused(cast, CloseCase(case=case, **{**CLOSING, "hulls": "found"}), "CLOSING-NOT-TIED")
    cast.scan(CloseCase(case=case, **{**CLOSING, "hulls": "not found"}), person=QUALITY)
    assert not is_open(case)
    assert [stands(n)[2] for n in (first, second, third)] == [False, False, True]
    # Nothing was taken away: every step stands as an event.
    kinds = [kind for (kind,) in rows_of("SELECT kind FROM event WHERE kind LIKE 'case%%' ORDER BY id")]
    assert len(kinds) == 1 + 7 + 1 + 1
    assert differences() == []


@pytest.mark.parametrize("missing", ["cause", "hulls", "reason"])
def test_a_case_is_not_closed_without(cast: Cast, missing: str) -> None:
    code = {"cause": "CLOSING-NO-CAUSE", "hulls": "CLOSING-NO-HULL", "reason": "REASON-MISSING"}[missing]
    case = opened(cast)
    refused(cast, CloseCase(case=case, **{**CLOSING, missing: ""}), code)
    assert is_open(case)
    cast.scan(CloseCase(case=case, **{**CLOSING, "cause": "none found"}), person=QUALITY)
    assert not is_open(case)


def test_a_closed_case_takes_nothing_until_it_is_opened_again(cast: Cast) -> None:
    complaint, later = taken(cast), taken(cast)
    case = opened(cast, complaint)
    refused(cast, ReopenCase(case=case, reason="more came"), "CASE-OPEN")
    hold = cast.scan(Hold(code=cast["m8b"], reason="copper"), person=QUALITY).made["holds"][0]
    closing = CloseCase(case=case, **{**CLOSING, "hulls": "not found"})
    cast.scan(closing, person=QUALITY)
    for command in [*steps(case, hold, later), closing]:
        refused(cast, command, "CASE-CLOSED")
    refused(cast, ReopenCase(case=case), "REASON-MISSING")
    cast.scan(ReopenCase(case=case, reason="a tenth came in"), person=QUALITY)
    assert is_open(case)
    assert stands(complaint) == (None, case, True)
    for command in steps(case, hold, later):
        cast.scan(command, person=QUALITY)
    assert differences() == []


def test_a_case_that_is_not_there(cast: Cast) -> None:
    taken(cast)
    for command in [*steps(9, "x", 1), CloseCase(case=9, **CLOSING), ReopenCase(case=9, reason="x")]:
        refused(cast, command, "CASE-UNKNOWN")
    refused(cast, OpenCase(name="crack", complaints=(5,)), "COMPLAINT-UNKNOWN")
    refused(cast, OpenCase(name=" "), "AMOUNT-UNREADABLE")


def test_a_complaint_of_a_case_is_closed_with_it_and_moves_to_another(cast: Cast) -> None:
    complaint = taken(cast)
    one, other = opened(cast, complaint), opened(cast)
    alone = CloseComplaint(complaint=complaint, cause="use", hull="not found", reason="dropped")
    refused(cast, alone, "COMPLAINT-IN-CASE")
    cast.scan(GroupComplaints(case=other, complaints=(complaint,)), person=QUALITY)
    assert stands(complaint)[1] == other
    refused(cast, GroupComplaints(case=one, complaints=(complaint,), out=True), "AMOUNT-UNREADABLE")
    cast.scan(GroupComplaints(case=other, complaints=(complaint,), out=True), person=QUALITY)
    cast.scan(alone, person=QUALITY)
    assert stands(complaint) == (None, None, False)
    # Put into a case, it is looked at again; its hull is kept.
    cast.hull(plate(1))
    cast.scan(TieHull(complaint=complaint, hull=plate(1)), person=QUALITY)
    cast.scan(GroupComplaints(case=one, complaints=(complaint,)), person=QUALITY)
    assert stands(complaint) == (plate(1), one, True)


@pytest.mark.parametrize(
    "fields",
    [
        {"of": Suspect, "cause": ("colour",)}, {"of": Suspect, "cause": ()},
        {"of": Suspect, "cause": ("mould=T430-02",), "stands": "guilty"},
        {"of": Suspect, "cause": ("mould=T430-02",), "stands": "cleared"},
        {"of": KeepScope, "cause": ("mould=T430-02",), "known": "2026-06-08", "certain": 1, "may": 0, "cannot": 0,
         "tree_size": 1},
        {"of": KeepScope, "cause": ("mould=T430-02",), "known": KNOWN, "certain": -1, "may": 0, "cannot": 0,
         "tree_size": 1},
        {"of": HoldForCase, "hold": "0198c000-0000-7000-8000-000000000000"}, {"of": HoldForCase, "hold": ""},
        {"of": RecordTest, "what": "finish"}, {"of": RecordTest, "what": "finish", "result": "copper", "day": "soon"},
        {"of": TellConsignee, "consignee": "NOBODY", "day": "2026-06-08"},
        {"of": TellConsignee, "consignee": "WHARFE", "day": ""},
        {"of": TellConsignee, "consignee": "WHARFE", "day": "2026-06-08", "way": "pigeon"},
        {"of": GroupComplaints, "complaints": ()},
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_and_not_recorded(cast: Cast, fields: dict[str, Any]) -> None:
    case = opened(cast)
    command = fields.pop("of")
    refused(cast, command(case=case, **fields), "AMOUNT-UNREADABLE")


def test_two_cases_opened_at_once_have_two_numbers(cast: Cast) -> None:
    assert [opened(cast), opened(cast)] == [1, 2]
