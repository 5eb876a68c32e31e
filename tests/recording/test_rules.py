"""The table of rules: every row can be answered, every sentence can be said, and what a plant switches counts."""

from __future__ import annotations

import re
import string
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import cel
import pytest

from tests.cast import LEAD, OPERATOR, PLANNER, QUALITY, WO_RED, Cast, rows_of
from tests.recording.test_statements import day
from trace.codes import printed
from trace.recording import record as recording
from trace.recording.acts.loading import PlaceGraphic, ReadyMould
from trace.recording.acts.setup import Define
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer
from trace.recording.commands import HANDLERS
from trace.recording.rules.base_facts import base_facts
from trace.recording.rules.engine import VERDICTS, Rule, as_switched, evaluate, rule_set
from trace.recording.rules.table import BY_CODE, TABLE

KINDS = {command.KIND for command in HANDLERS}
ROLES = {"operator", "stores", "warehouse", "lead", "quality", "deputy", "planner", "maintenance", "administrator"}
WORDS_OF_CEL = {"has", "true", "false", "in", "size"}


def names_in(expression: str) -> set[str]:
    """The facts that an expression reads: what stands before the first dot."""
    without_texts = re.sub(r"'[^']*'", "", expression)
    return set(re.findall(r"(?<![.\w])([a-z_]+)", without_texts)) - WORDS_OF_CEL


def braces_in(rule: Rule) -> set[str]:
    return {
        str(name).split("[")[0].split(".")[0]
        for part in (rule.what, rule.why, rule.now)
        for _, name, _, _ in string.Formatter().parse(part)
        if name
    }


def test_codes_and_columns_are_sound() -> None:
    codes = [rule.code for rule in TABLE]
    assert len(codes) == len(set(codes)) == len(BY_CODE)
    for rule in TABLE:
        assert re.fullmatch(r"[A-Z]+(-[A-Z]+)*", rule.code), rule.code
        assert set(rule.guards) <= KINDS | {"*"}, rule.code
        assert rule.verdict in VERDICTS, rule.code
        assert set(rule.override) <= ROLES, rule.code
        assert rule.what and rule.why and rule.now, rule.code
        assert rule.now.endswith((".", "!")), rule.code
        # What nothing can be recorded without is no plant's choice, and a fixed rule has nobody who lets it pass.
        assert rule.fixed or not rule.basic, rule.code
        assert not (rule.fixed and rule.override), rule.code


@pytest.mark.parametrize("rule", TABLE, ids=lambda r: r.code)
def test_a_row_reads_what_it_names_and_no_more(rule: Rule) -> None:
    cel.compile(rule.when)
    assert names_in(rule.when) | braces_in(rule) == set(rule.reads)


def facts_of(monkeypatch: pytest.MonkeyPatch, cast: Cast) -> dict[str, list[dict[str, Any]]]:
    """For each kind of event the facts that its real commands produce in a day, refused ones too."""
    found: dict[str, list[dict[str, Any]]] = {}

    def note(table: Any, kind: str, facts: Any, switched: Any, *, basic: bool | None = None) -> Any:
        if kind:
            found.setdefault(kind, []).append(dict(facts))
        return evaluate(table, kind, facts, switched, basic=basic)

    monkeypatch.setattr(recording, "evaluate", note)
    for command, person in day(cast):
        cast.scan(command, person=person, helper="P-10")
    return found


def test_every_sentence_can_be_said_of_real_facts(monkeypatch: pytest.MonkeyPatch, cast: Cast) -> None:
    """Predicate and sentence of every rule are filled from the facts of the commands it guards: nothing is missing."""
    facts = facts_of(monkeypatch, cast)
    said = 0
    for rule in TABLE:
        for kind in KINDS if rule.guards == ("*",) else rule.guards:
            for one in facts.get(kind, []):
                if rule.reads == ("typed",) and not one["typed"]:
                    continue
                assert isinstance(cel.compile(rule.when).execute({n: one[n] for n in rule.reads}), bool), rule.code
                if rule.guards != ("*",) or rule.reads != ("typed",):
                    said += 1
                    for part in (rule.what, rule.why, rule.now):
                        text = part.format_map(one)
                        assert "{" not in text, (rule.code, text)
    assert said > 200
    unseen = {k for k in KINDS if k not in facts}
    # Told of in tests of their own: cuts, swaps, corrections, releases of holds, consignments, scrap, certificates; and
    # what is done at the desk about complaints, cases, walks, recalls, drills and holds on a scope.
    elsewhere = {
        "certified", "released", "corrected", "cut", "discrepancy_closed", "dispatched", "hold_released",
        "plates_swapped", "plates_compared", "reading_corrected", "rewrapped", "scrapped", "shown",
        "sample_ended", "repaired", "returned", "plate_replaced", "remoulded",
        "complained", "complaint_tied", "complaint_closed", "erased",
        "case_opened", "case_grouped", "case_suspected", "case_scoped", "case_held", "case_tested", "case_decided",
        "case_told", "case_closed", "case_reopened",
        "containment_begun", "containment_seen", "containment_ended", "recall_begun", "recall_replied",
        "owner_registered", "owner_withdrawn", "trained", "badge_looked_at",
        "calibrated", "calibration_withdrawn", "calibration_followed_up",
        "impact_dropped", "impact_drop_taken_back", "impact_ended", "impact_reopened",
        "drill_begun", "drill_marked", "drill_signed", "scope_held", "scope_released", "scope_spread",
        "holds_read", "scope_saved", "scope_put_aside", "shift_accepted", "first_off_passed",
        "stock_seen", "stock_count_ended",
    }  # fmt: skip
    assert sorted(unseen - elsewhere) == []


def test_a_fact_that_is_missing_is_a_refusal() -> None:
    rule = Rule("X", ("weighed",), ("box",), "box.held", "{box[name]}", "w.", "n.", verdict="warn")
    missing: list[dict[str, Any]] = [{"box": {}}, {"box": {"held": "yes"}}, {}]
    for facts in missing:
        (finding,) = evaluate((rule,), "weighed", facts, {}, basic=False)
        assert (finding.code, finding.verdict) == ("X", "refuse")
    broken = replace(rule, when="box.held &&")
    (finding,) = evaluate((broken,), "weighed", {"box": {"held": True}}, {}, basic=False)
    assert finding.verdict == "refuse"
    # A sentence that cannot be filled is no pass either.
    nameless = replace(rule, when="true")
    assert evaluate((nameless,), "weighed", {"box": {}}, {}, basic=False)[0].verdict == "refuse"


def test_the_name_of_a_rule_set_changes_with_anything_in_it() -> None:
    names = {rule_set(TABLE, {})}
    for change in (
        replace(TABLE[40], verdict="warn" if TABLE[40].verdict != "warn" else "hold"),
        replace(TABLE[40], when=f"({TABLE[40].when})"),
        replace(TABLE[40], now="Do something else."),
        replace(TABLE[40], override=("administrator",)),
    ):
        names.add(rule_set((*TABLE[:40], change, *TABLE[41:]), {}))
    names.add(rule_set(TABLE, {"OVERDRAW": "warn"}))
    names.add(rule_set(TABLE[1:], {}))
    assert len(names) == 7
    assert rule_set(TABLE, {}) == rule_set(tuple(TABLE), {})


def heavy(cast: Cast, **by: Any) -> Answer:
    command = Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][0], scale="W-3", gross="12.50")
    return cast.scan(command, **{"expect": "CHARGE-HEAVY", **by})


@pytest.mark.parametrize(("verdict", "outcome"), [("hold", "flagged"), ("warn", "warned"), ("off", "accepted")])
def test_a_switched_verdict_counts_and_is_recorded(cast: Cast, verdict: str, outcome: str) -> None:
    before = heavy(cast)
    assert before.outcome == "refused"
    cast.scan(Define(kind="setting", key="rule:CHARGE-HEAVY", body={"value": verdict}), person=PLANNER)
    after = heavy(cast)
    assert (after.outcome, after.rules == before.rules) == (outcome, False)
    body = rows_of("SELECT body::jsonb->>'rules' FROM event ORDER BY id DESC LIMIT 1")
    assert body == [(after.rules,)]
    shown = next(r for r in as_switched(TABLE, {"CHARGE-HEAVY": verdict}) if r.code == "CHARGE-HEAVY")
    assert shown.verdict == verdict


@pytest.mark.parametrize("code", [rule.code for rule in TABLE if rule.fixed])
def test_a_fixed_rule_cannot_be_switched(cast: Cast, code: str) -> None:
    switch = Define(kind="setting", key=f"rule:{code}", body={"value": "off"})
    assert cast.scan(switch, person=PLANNER, expect="RULE-FIXED").code == "RULE-FIXED"
    facts: dict[str, Any] = {name: {} for name in BY_CODE[code].reads}
    only = (replace(BY_CODE[code], when="true", what="w", why="w", now="n."),)
    kind = "" if BY_CODE[code].guards == ("*",) else BY_CODE[code].guards[0]
    for basic in (True, False):
        found = evaluate(only, kind, facts, {code: "off"}, basic=basic)
        assert bool(found) == (basic == BY_CODE[code].basic)


def test_an_override_needs_a_role_and_a_reason_and_is_kept(cast: Cast) -> None:
    reason = {"CHARGE-HEAVY": "the spout dripped"}
    assert heavy(cast, person=OPERATOR, overrides=reason).outcome == "refused"
    assert heavy(cast, person=LEAD, overrides={"CHARGE-HEAVY": ""}).outcome == "refused"
    assert heavy(cast, person=LEAD, overrides={"CHARGE-LIGHT": "no"}).outcome == "refused"
    passed = heavy(cast, person=LEAD, overrides=reason)
    assert (passed.outcome, passed.code) == ("warned", "CHARGE-HEAVY")
    assert passed.found == [{"code": "CHARGE-HEAVY", "verdict": "refuse", "overridden": "yes"}]
    kept = rows_of(
        """SELECT n.text FROM event e, LATERAL jsonb_each_text(e.body::jsonb->'overrides') AS o(code, digest)
             JOIN note n ON n.digest = o.digest WHERE o.code = 'CHARGE-HEAVY'"""
    )
    assert kept == [("the spout dripped",)]


@pytest.mark.parametrize("code", [rule.code for rule in TABLE if rule.fixed and not rule.basic])
def test_nobody_overrides_a_fixed_rule(code: str) -> None:
    assert BY_CODE[code].override == ()


def test_every_answer_cites_the_rules_in_force(cast: Cast) -> None:
    for person in (LEAD, QUALITY, OPERATOR):
        assert heavy(cast, person=person).rules == rule_set(TABLE, {})
    assert rows_of("SELECT count(*) FROM scan WHERE answer::jsonb->>'rules' <> %s", rule_set(TABLE, {})) == [(0,)]


def test_base_facts_name_every_fact_that_a_rule_reads(cast: Cast) -> None:
    from trace.readmodels.plantdata import newest
    from trace.recording.commands import By
    from trace.recording.floor.standing import Floor

    command = next(c for c, _ in day(cast))
    facts = base_facts(command, Floor(By(person=LEAD), newest(), cast.clock.now, cast.clock.now))
    assert {name for rule in TABLE for name in rule.reads} <= facts.keys()


def _rule(code: str, when: str, verdict: str = "refuse", *, fixed: bool = False) -> Rule:
    return Rule(code, ("weighed",), ("tub",), when, f"{code} spoke.", "", "", verdict, fixed=fixed)


@pytest.mark.parametrize(
    ("facts", "switched", "spoken"),
    [
        ({"full": False, "kg": 3}, {}, []),
        ({"full": True, "kg": 3}, {}, ["FULL"]),
        ({"full": True, "kg": 3}, {"FULL": "off"}, []),
        ({"full": True, "kg": 9}, {"FULL": "off", "HEAVY": "off"}, ["HEAVY"]),  # one that is fixed cannot be switched
        ({"full": False}, {}, ["HEAVY"]),  # a fact that is missing is not a pass, whatever the other rules say
        ({"full": True}, {}, ["FULL", "HEAVY"]),
        ({"full": "no", "kg": 3}, {}, ["FULL"]),
    ],
)
def test_rules_that_are_asked_together_speak_as_each_alone(
    facts: dict[str, object], switched: dict[str, str], spoken: list[str]
) -> None:
    table = (_rule("FULL", "tub.full"), _rule("HEAVY", "tub.kg > 5", fixed=True))
    found = evaluate(table, "weighed", {"tub": facts}, switched, basic=False)
    assert [one.code for one in found] == spoken


@pytest.mark.parametrize(
    "when", ["size(tub) == 2", "has(tub.kg) && !has(tub.mm)", "'kg' in tub", "tub.all(f, f != 'mm')"]
)
def test_a_rule_may_ask_for_a_fact_as_a_whole(when: str) -> None:
    facts = {"tub": {"full": False, "kg": 3}}
    (found,) = evaluate((_rule("FULL", "tub.full"), _rule("WHOLE", when)), "weighed", facts, {})
    assert (found.code, found.what) == ("WHOLE", "WHOLE spoke.")
    assert evaluate((_rule("FULL", "tub.full"), _rule("WHOLE", f"!({when})")), "weighed", facts, {}) == []


def test_a_refusal_of_a_graphic_names_the_artwork_of_its_zone(cast: Cast) -> None:
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    place = PlaceGraphic(mould="T430-01", pack=cast["capacity"], zone="PORT")
    refused = cast.scan(place, expect="GRAPHIC-NOT-FOR-ORDER")
    assert refused.why == "The order takes TAMSIN-SIDE there."


def test_a_refusal_of_a_tub_names_its_layer(cast: Cast) -> None:
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    for tub in cast["tubs"][:2]:
        cast.charge("skin", cast["red"], tub)
    cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][0]))
    again = cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][1]), expect="LAYER-IN-ALREADY")
    assert again.what == "The skin is in this mould already."


def test_a_tub_that_was_filled_without_a_weighing_holds_a_charge_of_no_layer(cast: Cast) -> None:
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TopUp(source=cast["red"], into=cast["tubs"][0], amount="12.20"), person=LEAD)
    told = cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][0]), mode="tells")
    assert f"{printed(cast['tubs'][0])} holds the charge of no layer." in told.also
    assert told.recorded == "a charge, 12.20 kg, into T430-01"
    kept: Any = SimpleNamespace(
        says={"tub": cast["tubs"][0], "mould": "T430-01"},
        part=lambda _name: [{"layer": None, "amount": 12_200_000, "uom": "mg"}],
    )
    assert TipTub.told(kept).startswith("Charge of no layer tipped: 12.20 kg from ")
