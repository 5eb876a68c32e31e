"""Training: a run is witnessed by somebody trained, a sign-off follows from runs enough, and the rules read it."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cast import LEAD, QUALITY, WO_RED, Cast
from trace.readmodels.plantdata import newest
from trace.readmodels.rebuild import differences
from trace.recording.acts.oven import StartCook
from trace.recording.acts.setup import Define
from trace.recording.acts.training import Train, training_of
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer

NEW = "P-50"


@pytest.fixture
def learner(cast: Cast) -> Cast:
    body: dict[str, Any] = {"roles": ["operator"], "trained": {}, "until": None}
    cast.scan(Define(kind="person", key=NEW, name="Ada Fenn", body=body), person="P-09")
    return cast


def train(cast: Cast, expect: str = "", **said: str) -> Answer:
    command = Train(**{"person": NEW, "trainer": LEAD, "task": "weighing", **said})
    return cast.scan(command, person=QUALITY, expect=expect)


def weigh(cast: Cast, tub: int, expect: str = "", helper: str = "") -> Answer:
    command = Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][tub], scale="W-3", gross="12.20")
    return cast.scan(command, person=NEW, helper=helper, expect=expect)


def test_runs_enough_and_a_sign_off_that_the_rules_read(learner: Cast) -> None:
    learner.scan(Define(kind="setting", key="witnessed runs", body={"value": {"weighing": 2}}), person="P-09")
    weigh(learner, 0, expect="UNTRAINED")
    # With a trained person beside it the work is a run by itself.
    assert weigh(learner, 0, helper=LEAD).outcome == "accepted"
    sign_off = {"what": "signed off", "until": "2027-06-30"}
    refused = train(learner, expect="TRAIN-RUNS", **sign_off)
    assert "1 witnessed runs" in refused.what and "asks for 2" in refused.why
    train(learner)
    assert [(one.what, one.trainer, one.station) for one in training_of(NEW)] == [
        ("run", LEAD, "weighed"), ("run", LEAD, ""),
    ]  # fmt: skip
    assert train(learner, **sign_off).outcome == "accepted"
    assert newest().body("person", NEW)["trained"] == {"weighing": "2027-06-30"}
    assert weigh(learner, 1).outcome == "accepted"
    assert differences() == []


def test_nobody_trains_themselves_and_who_is_untrained_witnesses_nothing(learner: Cast) -> None:
    train(learner, expect="TRAIN-SELF", trainer=NEW)
    train(learner, expect="TRAIN-TRAINER", trainer="P-08")
    train(learner, expect="CODE-UNKNOWN", trainer="P-99")
    assert training_of(NEW) == []


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"task": "juggling"}, "Say for which task"),
        ({"what": "signed off"}, "is no day"),
        ({"what": "signed off", "until": "2026-06-01"}, "is over"),
        ({"until": "2027-06-30"}, "A witnessed run ends nothing"),
    ],
)
def test_what_says_nothing_is_refused_in_one_sentence(learner: Cast, said: dict[str, str], why: str) -> None:
    assert why in train(learner, expect="AMOUNT-UNREADABLE", **said).why


def test_a_sign_off_on_one_oven_holds_for_it_and_its_arms_alone(learner: Cast) -> None:
    train(learner, task="oven", what="signed off", until="2027-06-30", machine="OVEN-1")
    assert newest().body("person", NEW)["only_on"] == ["OVEN-1"]
    cook = StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",))
    answer = learner.scan(cook, person=NEW, expect="UNTRAINED")
    assert answer.code == "UNTRAINED"
    train(learner, task="oven", what="signed off", until="2027-06-30", machine="OVEN-2")
    answer = learner.scan(cook, person=NEW, expect="MOULD-NOT-CLOSED")
    assert answer.code != "UNTRAINED"
