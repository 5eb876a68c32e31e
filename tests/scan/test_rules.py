"""Every rule a station can meet: the answer, the scan kept, nothing changed by a refusal, what passes next."""

import pytest

from tests.scan.cast import Plant
from tests.scan.conftest import Opens
from tests.scan.rules import (
    containment,
    desk,
    doubted,
    finishing,
    goods,
    impact,
    leaving,
    loading,
    mould_care,
    new_plates,
    oven,
    plates,
    repairs,
    returns,
    shift_end,
    stock_counts,
    tubs,
    ways_out,
    weighing,
)
from tests.scan.rules.cases import CASES, Story, newest_scan, state
from trace.models import Hold
from trace.recording.rules.table import BY_CODE, TABLE
from trace.recording.rules.tables.complaints import COMPLAINTS
from trace.recording.rules.tables.instruments import INSTRUMENTS
from trace.recording.rules.tables.owners import OWNERS
from trace.recording.rules.tables.recalls import RECALLS

MODULES = (
    weighing, loading, oven, goods, plates, finishing, leaving, doubted, containment, desk, impact, ways_out, returns,
    repairs, new_plates, tubs, shift_end, mould_care, stock_counts,
)  # fmt: skip

# Rules that no station's page can meet, and why.
NOT_AT_A_STATION = {
    "THING-UNFIT": "plant data is set up at the desk",
    "THING-FAULTY": "plant data is set up at the desk",
    "THING-THERE": "plant data is set up at the desk",
    "RULE-FIXED": "rules are switched at the desk",
    "NOTHING-CHANGED": "plant data is set up at the desk",
    "NOTHING-RACKED": "the page asks for what is put there, and sends nothing before",
    "LAYER-NOT-IN-RECIPE": "the page offers the recipe's layers only; tests/recording/test_recipe_version.py asks",
    "NOTHING-COOKED": "the page offers no start before a mould is scanned",
    "HOLD-CONDITIONAL": "the page lists holds that are ended; this one ends with the release of its lot",
    "COOK-OVERLAPS": "it is told from paper, hours later; tests/recording/test_arms.py tells it by the clock",
    **dict.fromkeys((rule.code for rule in COMPLAINTS), "complaints and cases are kept at the desk"),
    **dict.fromkeys((rule.code for rule in OWNERS), "owners are registered at the desk"),
    **dict.fromkeys((rule.code for rule in INSTRUMENTS), "calibrations are entered at the desk"),
    **dict.fromkeys(("TRAIN-SELF", "TRAIN-TRAINER", "TRAIN-RUNS"), "training is recorded at the desk"),
    **dict.fromkeys((rule.code for rule in RECALLS), "recalls and drills are kept at the desk"),
    **dict.fromkeys(("WALK-NO-HOLD", "WALK-NOTHING", "WALK-TOO-WIDE"), "a walk is begun at the desk"),
    "IMPACT-DROP-GONE": "a drop is taken back at the desk",
    "IMPACT-END-GONE": "the end of a test is taken back at the desk",
    "GIVE-BACK-NO-SUPPLIER": "the page asks who supplied it where nobody knows, and sends nothing before",
    "GIVE-BACK-OTHER-SUPPLIER": "the page asks for a supplier only where none is known",
    "WALK-EMPTY-PACK": "no station packs nothing",
    **dict.fromkeys(("REPAIR-UNSAID", "REPAIR-NOWHERE"), "the page offers work and places from a list"),
    "TUB-USED": "a tipped tub is empty, so TUB-NOT-WEIGHED speaks first",
}

# Refusals after which there is nothing to tell: whatever else is refused may have happened already, and can be told.
NOTHING_HAPPENED = {
    **dict.fromkeys(("CODE-MISREAD", "CODE-UNKNOWN", "CODE-WRONG-KIND", "LABEL-REPLACED"), "nobody knows what it is"),
    **dict.fromkeys(("AMOUNT-UNREADABLE", "TIME-AHEAD", "PLATE-TEXT"), "what was typed cannot be"),
    "CHECK-WEIGHT-AGAIN": "the figure is asked for once more",
    **dict.fromkeys(("WALK-UNKNOWN", "WALK-OVER"), "it is seen on another walk"),
    **dict.fromkeys(("REASON-MISSING", "GATE-NO-CONSIGNEE", "GATE-NO-VEHICLE"), "something was not said yet"),
    **dict.fromkeys(
        ("REASSIGN-PART", "REASSIGN-SAME", "REASSIGN-ENDED", "REASSIGN-RECIPE", "REASSIGN-WEIGHT"),
        "a decision is made here and now, or not at all",
    ),
    **dict.fromkeys(
        ("HOLD-NOT-CHOSEN", "HOLD-UNKNOWN", "HOLD-ELSEWHERE", "HOLD-OWN", "HOLD-SAME-PERSON", "DISCREPANCY-UNKNOWN"),
        "a decision is made here and now, or not at all",
    ),
    **dict.fromkeys(
        ("RELEASE-SAME-PERSON", "RELEASE-HELD", "RELEASE-EXPIRED", "CERTIFICATE-MISSING", "CERTIFICATE-OTHER-LOT",
         "CERTIFICATE-OUTSIDE", "FINISH-UNVERIFIED"),
        "a lot is released here and now, or not at all",
    ),
    **dict.fromkeys(
        ("STOCK-COUNT-OPEN", "STOCK-NO-REASON"),
        "a count is begun and ended here and now, or not at all",
    ),
    **dict.fromkeys(
        ("FIRST-OFF-NOT-DUE", "FIRST-OFF-OTHER", "FIRST-OFF-HELD"), "a first-off is passed here and now, or not at all"
    ),
    **dict.fromkeys(
        ("HANDOVER-UNKNOWN", "HANDOVER-ACCEPTED", "HANDOVER-OWN"), "a shift is accepted here and now, or not at all"
    ),
}


@pytest.mark.parametrize(
    ("code", "outcome", "story"), CASES, ids=[f"{code}-{story.__name__}" for code, _, story in CASES]
)
def test_rule_at_its_station(plant: Plant, at: Opens, code: str, outcome: str, story: Story) -> None:
    telling = story(plant, at)
    judged = next(telling)
    before, holds = state(), Hold.objects.count()
    page = judged()
    assert page.status == 200
    assert page.outcome == outcome, (page.outcome, page.verdict, page.said("said"), page.next)
    assert f"rule {code}" in page.verdict
    sentence = BY_CODE[code].now.split("{")[0].strip() or BY_CODE[code].why.split("{")[0].strip()
    assert sentence in page.verdict
    assert newest_scan() == (outcome, code)
    if outcome == "refused":
        assert state() == before
        rule = BY_CODE[code]
        assert page.offers("override") == bool(rule.override and not rule.fixed and not rule.basic)
        assert page.offers("tell") == (code not in NOTHING_HAPPENED)
    else:
        assert state() != before
    assert (Hold.objects.count() > holds) == (outcome == "flagged")
    good = next(telling)
    page = good()
    assert page.outcome in ("accepted", "warned", "flagged"), (page.outcome, page.verdict, page.said("said"), page.next)
    assert newest_scan()[0] == page.outcome
    assert f"rule {code}" not in page.verdict
    assert next(telling, None) is None


def test_every_rule_has_a_test_or_a_reason_why_no_station_meets_it() -> None:
    tested = {code for code, _, _ in CASES}
    assert tested | set(NOT_AT_A_STATION) == {rule.code for rule in TABLE}
    assert not tested & set(NOT_AT_A_STATION)


def test_outcomes_are_those_of_the_table() -> None:
    words = {"refuse": "refused", "hold": "flagged", "warn": "warned", "off": "refused"}
    assert {(c, o) for c, o, _ in CASES} == {(c, words[BY_CODE[c].verdict]) for c, _, _ in CASES}
