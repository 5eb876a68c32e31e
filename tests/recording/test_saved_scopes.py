"""A saved scope: asked again for its moment it is the same for ever, whatever is told since; what differs is said."""

from __future__ import annotations

import random
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from typing import Any

import pytest
from django.core.management import call_command

from tests.cast import LEAD, PACKER, QUALITY, SO_RED, STORES, Cast, plate, rows_of
from tests.recording.test_scope_holds import QUESTIONS
from trace.demo.floor import RefusedError
from trace.genealogy.answer import what_was_known
from trace.genealogy.asked_again import AskedAgain, asked_again, digest_of
from trace.genealogy.causes import read_cause
from trace.genealogy.saved_scopes import SavedScope, saved_scope, saved_scopes
from trace.genealogy.shared_documents import as_json
from trace.genealogy.sharing import shared_by
from trace.pages.saved_scopes import as_saved
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.opening import OldHull
from trace.recording.acts.owners import RegisterOwner
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.saved_scopes import PutScopeAside
from trace.recording.acts.weighing import CheckWeight

SEEDS = range(6)
STEPS = 14


def send(cast: Cast, words: str, *, name: str = "cracks", expect: str = "", **changed: Any) -> None:
    command = replace(as_saved(shared_by(read_cause(words.split())), name), **changed)
    cast.scan(command, person=QUALITY, expect=expect)


def save(cast: Cast, words: str, **changed: Any) -> SavedScope:
    send(cast, words, **changed)
    return saved_scopes()[-1]


def told(one: SavedScope) -> dict[str, Any]:
    """The whole answer for its moment, apart from what a label or a person is called now."""
    document = as_json(shared_by(read_cause(one.words), one.known))
    return {name: document[name] for name in ("tree_size", "counts", "parts", "hulls", "gaps")}


def again(one: SavedScope) -> AskedAgain:
    return asked_again(read_cause(one.words), one.known)


def changed(found: AskedAgain) -> list[tuple[str, str]]:
    return [(change.how, (change.now or change.then).node.code) for change in found.changes]  # type: ignore[union-attr]


def weighed(layer: str) -> str:
    """The last charge of a layer that was weighed: its event."""
    sql = """SELECT uid::text FROM event WHERE kind = 'weighed' AND body::jsonb #>> '{says,layer}' = %s
              ORDER BY id DESC LIMIT 1"""
    return str(rows_of(sql, layer)[0][0])


class Year:
    """A plant in which something is told at random: hulls, and what was otherwise than it was told."""

    def __init__(self, cast: Cast, seed: int) -> None:
        self.cast, self.chance, self.made = cast, random.Random(seed), list[str]()
        self.acts: list[Callable[[], object]] = [self.hull, self.hull, self.corrected, self.counted, self.owner,
            self.checked, self.thicker, self.old, self.sent]  # fmt: skip

    def hull(self) -> None:
        if len(self.made) < 8:
            serial = plate(len(self.made) + 1)
            mould, arm = self.chance.choice([("T430-01", "S1"), ("T430-02", "S2")])
            self.made.append(self.cast.hull(serial, mould, arm, red=self.cast[self.chance.choice(["red", "red2"])]))

    def corrected(self) -> None:
        """The skin came out of the other box."""
        if self.made:
            event = weighed("skin")
            was = rows_of("SELECT body::jsonb #>> '{says,box}' FROM event WHERE uid = %s", event)[0][0]
            now = next(self.cast[name] for name in ("red", "red2") if self.cast[name] != was)
            self.cast.scan(Correct(event=event, was=was, now=now, reason="read"), person=LEAD, mode="tells")

    def counted(self) -> None:
        box = self.cast[self.chance.choice(["m8", "m8b"])]
        self.cast.scan(Count(box=box, amount="450", again="450", reason="counted"), person=STORES, mode="tells")

    def owner(self) -> None:
        if self.made:
            owner = RegisterOwner(hull=self.chance.choice(self.made), owner="W", region="GB-SCT")
            self.cast.scan(owner, person=LEAD, mode="tells")

    def checked(self) -> None:
        shown = self.chance.choice(["10.000", "10.900"])
        self.cast.scan(CheckWeight(scale="W-3", shown=shown, again=shown), station="weighing", mode="tells")

    def thicker(self) -> None:
        if self.made:
            zones = {zone: self.chance.choice(["4.0", "4.6"]) for zone in ("bow", "keel", "stern")}
            seen = Inspect(hull=self.chance.choice(self.made), verdict="pass", thickness=zones)
            self.cast.scan(seen, person=QUALITY, mode="tells")

    def old(self) -> None:
        serial = f"OLD-{self.chance.randrange(10**6)}"
        self.cast.scan(OldHull(serial=serial, product="T430"), person=STORES, mode="tells")

    def sent(self) -> None:
        if self.made:
            pack = Pack(order=SO_RED, hulls=(self.chance.choice(self.made),))
            codes = self.cast.scan(pack, person=PACKER, mode="tells").made.get("codes", [])
            if codes:
                sent = Dispatch(order=SO_RED, packs=(codes[0],), consignee="WHARFE", vehicle="PA 12")
                self.cast.scan(sent, person=PACKER, mode="tells")


@pytest.mark.parametrize("seed", SEEDS)
def test_asked_again_as_known_then_it_is_the_same_whatever_is_told_since(cast: Cast, seed: int) -> None:
    """Held against the whole document of the answer, which knows nothing of digests."""
    year = Year(cast, seed)
    year.hull()
    kept: list[tuple[SavedScope, dict[str, Any]]] = []
    for step in range(STEPS):
        with suppress(RefusedError):  # a second first purchaser
            year.chance.choice(year.acts)()
        if step % 2:
            one = save(cast, year.chance.choice(QUESTIONS))
            kept.append((one, told(one)))
    differing = 0
    for one, document in kept:
        found = again(saved_scope(one.number) or one)
        assert one.same_as(found.then), (one.words, seed)
        assert told(one) == document
        today = {hull["code"]: hull for hull in as_json(found.now)["hulls"]}
        before = {hull["code"]: hull for hull in document["hulls"]}
        plain = {
            code for code, hull in today.items()
            if (before.get(code, {"verdict": "cannot"})["verdict"], _bounds(before.get(code))) != (
                hull["verdict"], _bounds(hull)
            )
        }  # fmt: skip
        assert {code for _how, code in changed(found)} == plain, one.words
        differing += bool(plain)
    assert differing
    assert differences() == []


def _bounds(hull: dict[str, Any] | None) -> list[Any]:
    """What of the amounts is a bound; of a hull that cannot share it none counts."""
    if hull is None or hull["verdict"] == "cannot":
        return []
    return [[one[name] for name in ("of", "part", "min", "max")] for one in hull["amounts"]]


def test_each_way_in_which_a_hull_is_told_otherwise_is_named(cast: Cast) -> None:
    first, second = cast.hull(plate(1)), cast.hull(plate(2))
    one = save(cast, "holds=V-2288")
    assert changed(again(one)) == []
    cast.scan(Correct(event=weighed("skin"), was=cast["red"], now=cast["red2"], reason="read"), person=LEAD)
    third = cast.hull(plate(3))
    found = again(one)
    assert changed(found) == [("gone", second), ("new", third)]
    assert [[one.kind for one in told] for told in found.since(found.changes).values()] == [["corrected"]]
    assert (found.count("gone"), found.count("new"), found.count("verdict")) == (1, 1, 0)
    event = str(rows_of("SELECT uid::text FROM event WHERE kind = 'weighed' ORDER BY id LIMIT 1")[0][0])
    cast.scan(
        Correct(event=event, was=cast["red"], now=cast["red"], amount="11.900", reason="misread"), person=LEAD
    )
    found = again(one)
    assert ("amount", first) in changed(found)
    amount = next(change for change in found.changes if change.how == "amount")
    assert amount.then and amount.now and "12.2" in amount.then.why and "11.9" in amount.now.why
    assert one.same_as(found.then)


def test_a_missing_record_that_came_to_be_known_is_named(cast: Cast) -> None:
    cast.hull(plate(1))
    one = save(cast, "arm=S1")
    cast.scan(OldHull(serial="OLD-7", product="T430"), person=STORES)
    found = again(one)
    assert changed(found) == [("new", "OLD-7")]
    assert {gap.code for gap in found.gaps_new} == {"OLD-7"}
    assert found.gaps_gone == ()
    assert one.same_as(found.then)


def test_what_is_not_as_it_was_saved_is_said(cast: Cast, capsys: pytest.CaptureFixture[str]) -> None:
    cast.hull(plate(1))
    right = save(cast, "holds=V-2288")
    other = digest_of(shared_by(read_cause(["holds=V-2291"])))
    for forged in (
        save(cast, "holds=V-2288", digest=other), save(cast, "holds=V-2288", certain=right.counts["certain"] + 1),
    ):
        assert not forged.same_as(again(forged).then)
        call_command("scope", "--saved", str(forged.number))
        assert "NOT ANSWERED AS IT WAS" in capsys.readouterr().out
    assert right.same_as(again(right).then)
    call_command("scope", "--saved", str(right.number))
    assert "answered as it was when it was saved" in capsys.readouterr().out
    call_command("scope", "--saved")
    assert [line.split()[0] for line in capsys.readouterr().out.splitlines()] == ["1", "2", "3"]


def test_what_was_under_way_at_its_moment_is_waited_for(cast: Cast) -> None:
    """The number of records by that moment is counted again while this record is alone."""
    cast.hull(plate(1))
    send(cast, "holds=V-2288", tree_size=what_was_known()[1] - 1, expect="AMOUNT-UNREADABLE")
    assert saved_scopes() == []


def test_it_needs_a_name_a_question_and_a_moment(cast: Cast) -> None:
    for wrong in (
        {"name": " "}, {"cause": ("colour",)}, {"known": "yesterday"}, {"known": "2026-06-08T12:00"},
        {"digest": "x"}, {"certain": -1},
    ):
        send(cast, "model=T430", expect="AMOUNT-UNREADABLE", **wrong)
    assert saved_scopes() == []


def test_it_is_put_aside_with_a_reason_and_never_lost(cast: Cast) -> None:
    one = save(cast, "model=T430")
    cast.scan(PutScopeAside(number=one.number), person=LEAD, expect="REASON-MISSING")
    cast.scan(PutScopeAside(number=7, reason="x"), person=LEAD, expect="AMOUNT-UNREADABLE")
    cast.scan(PutScopeAside(number=one.number, reason="found"), person=LEAD)
    cast.scan(PutScopeAside(number=one.number, reason="again"), person=LEAD, expect="AMOUNT-UNREADABLE")
    aside = saved_scope(one.number)
    assert aside is not None and aside.aside_by == LEAD and aside.aside is not None
    assert aside.same_as(again(aside).then)
    assert saved_scopes(as_known_on=one.saved)[0].aside is None
