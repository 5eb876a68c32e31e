"""What a request looked up is not looked up again by the record; a label that ended meanwhile is seen all the same."""

from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.cast import OPERATOR, WO_RED, Cast, statements
from trace import lookup
from trace.codes import uuid7
from trace.models import LabelState
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer
from trace.recording.commands import By
from trace.recording.floor.standing import Known
from trace.recording.record import record


def weigh(cast: Cast, known: Known | None) -> Answer:
    command = Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][0], scale="W-3", gross="12.20")
    who = By(person=OPERATOR, station="weighing", device="t1", scan_id=uuid7(), recorded=cast.clock())
    return record(command, who, known)


def looked_up(cast: Cast) -> Known:
    known = Known()
    found = lookup.look([WO_RED, "W-3", cast["red"], cast["tubs"][0]], lookup.plant_now(), known=known)
    assert all(one.kinds for one in found.values())
    return known


def test_what_is_known_is_looked_up_once(cast: Cast) -> None:
    known = looked_up(cast)
    answers: list[Answer] = []
    sent = statements(lambda: answers.append(weigh(cast, known)))
    assert [answer.outcome for answer in answers] == ["accepted"]
    assert [sql for sql in sent if "'label' AS how" in sql] == []
    assert [sql for sql in statements(lambda: weigh(cast, None)) if "'label' AS how" in sql] != []


def test_a_label_that_ended_after_it_was_looked_up_has_ended(cast: Cast) -> None:
    known = looked_up(cast)
    LabelState.objects.create(code=cast["tubs"][0])
    assert weigh(cast, known).code == "LABEL-REPLACED"


def test_a_code_that_was_nothing_is_looked_up_again(cast: Cast) -> None:
    known = Known()
    assert known.rows(["3334-3DRX"], ()) == []
    with CaptureQueriesContext(connection) as sent:
        assert known.rows(["3334-3DRX"], ()) == []
    assert len(sent.captured_queries) == 1
