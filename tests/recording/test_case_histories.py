"""Complaints and cases in random order, beside a plain book that shares no code: what stands, and what is refused."""

from __future__ import annotations

import os
import random
from dataclasses import dataclass, field

import pytest

from tests.cast import QUALITY, Cast, plate, rows_of
from trace.readmodels import apply
from trace.readmodels.rebuild import differences
from trace.recording.acts.cases import CloseCase, GroupComplaints, OpenCase, ReopenCase
from trace.recording.acts.complaints import CloseComplaint, TakeComplaint, TieHull
from trace.recording.commands import By, Command
from trace.recording.record import record
from trace.sheets.cases.told import hulls, told

HISTORIES = 60 if os.environ.get("LONG_TESTS") else 3
STEPS = 30


@dataclass
class Book:
    """complaint -> [plate or None, case or None, open]; case -> open."""

    complaints: dict[int, list[object]] = field(default_factory=dict)
    cases: dict[int, bool] = field(default_factory=dict)

    def take(self, hull: str) -> bool:
        self.complaints[len(self.complaints) + 1] = [hull or None, None, True]
        return True

    def tie(self, n: int, hull: str) -> bool:
        if n not in self.complaints or self.complaints[n][0] == (hull or None):
            return False
        self.complaints[n][0] = hull or None
        return True

    def close(self, n: int, found: bool) -> bool:
        one = self.complaints.get(n)
        if one is None or not one[2] or one[1] is not None or found == (one[0] is None):
            return False
        one[2] = False
        return True

    def open(self, n: int) -> bool:
        if n and n not in self.complaints:
            return False
        self.cases[len(self.cases) + 1] = True
        if n:
            self.complaints[n][1:] = [len(self.cases), True]
        return True

    def group(self, case: int, n: int, out: bool) -> bool:
        if not self.cases.get(case) or n not in self.complaints or (self.complaints[n][1] == case) != out:
            return False
        self.complaints[n][1:] = [None if out else case, True]
        return True

    def end(self, case: int, found: bool, still_open: bool) -> bool:
        if case not in self.cases or self.cases[case] == still_open:
            return False
        inside = [one for one in self.complaints.values() if one[1] == case]
        lost = [one for one in inside if one[0] is None]
        if not still_open and ((found and lost) or (not found and inside and not lost)):
            return False
        self.cases[case] = still_open
        for one in inside:
            one[2] = still_open
        return True


def step(rng: random.Random, book: Book, plates: list[str]) -> tuple[Command, bool]:  # noqa: PLR0911 - one a kind
    """One act with whether the book takes it."""
    n, case = rng.randint(1, len(book.complaints) + 1), rng.randint(1, len(book.cases) + 1)
    hull, found, out = rng.choice([*plates, ""]), rng.random() < 0.5, rng.random() < 0.4
    words = {"reason": "r"}
    match rng.randrange(8):
        case 0 | 1:
            return TakeComplaint(hull=hull), book.take(hull)
        case 2:
            return TieHull(complaint=n, hull=hull, **words), book.tie(n, hull)
        case 3:
            closing = CloseComplaint(complaint=n, cause="use", hull="found" if found else "not found", **words)
            return closing, book.close(n, found)
        case 4:
            inside = () if out else (n,)
            return OpenCase(name="n", complaints=inside), book.open(0 if out else n)
        case 5:
            return GroupComplaints(case=case, complaints=(n,), out=out, **words), book.group(case, n, out)
        case 6:
            ending = CloseCase(case=case, cause="use", hulls="found" if found else "not found", **words)
            return ending, book.end(case, found, still_open=False)
        case _:
            return ReopenCase(case=case, **words), book.end(case, found, still_open=True)


def compare(book: Book) -> None:
    """The read models, and the events folded, are as the book says."""
    stand = rows_of(
        """SELECT c.number, s.text, c.case, c.open FROM complaint c LEFT JOIN serial_state s ON s.hull = c.hull
            ORDER BY c.number"""
    )
    assert {n: list(rest) for n, *rest in stand} == book.complaints
    assert dict(rows_of("SELECT number, open FROM case_file")) == book.cases
    every = told()
    serials = {uid: hull.serial for uid, hull in hulls(one.hull for one in every.complaints.values()).items()}
    folded = {n: [serials.get(one.hull or ""), one.case, one.open] for n, one in every.complaints.items()}
    assert folded == book.complaints
    assert {n: case.open for n, case in every.cases.items()} == book.cases


def history(cast: Cast, seed: int) -> Book:
    rng, book = random.Random(seed), Book()
    plates = [cast.hull(plate(1)), cast.hull(plate(2))]
    for _ in range(STEPS):
        command, taken = step(rng, book, plates)
        told_or_asked = "tells" if isinstance(command, TakeComplaint) else "asks"
        now = cast.clock()
        answer = record(command, By(person=QUALITY, device="cast", mode=told_or_asked, happened=now, recorded=now))
        assert (answer.outcome == "refused") != taken, (command, answer)
    return book


@pytest.mark.parametrize("seed", range(HISTORIES))
def test_any_order_stands_as_in_the_book(cast: Cast, seed: int) -> None:
    compare(history(cast, seed))
    assert differences() == []


def test_a_planted_fault_is_found(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """A case that is not written beside its complaint: the comparison must say so."""
    right = apply.STEPS["complaint_stands"]

    def forgets(store: object, event: object, n: int, row: dict[str, object], ids: object) -> None:
        right(store, event, n, {**row, "case": None}, ids)

    monkeypatch.setitem(apply.STEPS, "complaint_stands", forgets)
    with pytest.raises(AssertionError):
        compare(history(cast, 0))
