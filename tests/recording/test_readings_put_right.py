"""Readings that were typed wrongly: each put right beside the record, judged as of its time, known from then on."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.cast import QUALITY, STORES, WO_RED, Cast, plate, rows_of
from trace.models import Event
from trace.readmodels.rebuild import differences
from trace.recording.acts.finishing import Inspect, _thickness
from trace.recording.acts.goods_in import Certify, Receive, Release
from trace.recording.acts.reading_corrections import CorrectReading
from trace.recording.acts.weighing import CheckWeight, Weigh
from trace.recording.answers import Answer
from trace.recording.floor.sources import certificate_of
from trace.recording.floor.weighed import checks_about
from trace.sheets.facts.entries import entries


def right(cast: Cast, of: str, kind: str, value: str, n: int = 0, expect: str = "") -> Answer:
    event = Event.objects.filter(kind=kind).order_by("-id")[0]
    command = CorrectReading(of=of, event=str(event.uid), n=n, value=value, reason="read again")
    answer = cast.scan(command, person=QUALITY, expect=expect)
    assert expect in ("", answer.code)
    assert differences() == []
    return answer


def said(kind: str) -> dict[str, object]:
    """What the newest event of this kind says on the pages."""
    event = Event.objects.filter(kind=kind).order_by("-id")[0]
    corrections = Event.objects.filter(kind="reading_corrected").values_list("id", flat=True)
    found = entries(inner=(), events=[event.id, *corrections])
    return dict(next(e for e in found if e.uid == str(event.uid)).says)


def holds(rule: str = "READING-OUTSIDE") -> list[str]:
    """The kinds of the units that are held by this rule."""
    return [kind for (kind,) in rows_of("SELECT u.kind FROM hold h JOIN unit u ON u.id = h.unit WHERE h.rule = %s"
                                        " ORDER BY u.id", rule)]  # fmt: skip


def test_a_thickness_is_judged_like_one_that_is_read(cast: Cast) -> None:
    hull = cast.hull(plate(1))
    zone = str(rows_of("SELECT zone FROM reading WHERE quantity = 'thickness' AND n = 0")[0][0])
    right(cast, hull, "inspected", "41", expect="AMOUNT-UNREADABLE")
    right(cast, hull, "inspected", "4.1", expect="NOTHING-READ")
    right(cast, cast["red"], "inspected", "4.2", expect="NOTHING-READ")
    assert right(cast, hull, "inspected", "4.2").outcome == "accepted"
    assert said("inspected")["thickness"][zone] == "4.2"  # type: ignore[index]
    assert rows_of("SELECT trim_scale(value)::text FROM reading WHERE zone = %s", zone) == [("4.2",)]
    assert right(cast, hull, "inspected", "3.1").outcome == "flagged"
    assert holds() == ["hull"]
    # Once more, from the last word on it; then it was never read.
    assert right(cast, hull, "inspected", "3.2").outcome == "accepted"
    assert right(cast, hull, "inspected", "").outcome in ("accepted", "flagged")
    assert zone not in said("inspected")["thickness"]  # type: ignore[operator]
    assert rows_of("SELECT value FROM reading WHERE zone = %s", zone) == []


def test_a_peak_is_judged_by_the_load_that_was_in_the_mould(cast: Cast) -> None:
    """Put right after the mould is loaded again, by the mould and by the hull: the load of that cook is held."""
    hull = cast.hull(plate(1))
    peak = str(said("cook_ended")["piat"])
    assert peak
    assert right(cast, hull, "cook_ended", "205").outcome == "accepted"
    assert right(cast, hull, "cook_ended", "231").outcome == "flagged"
    assert said("cook_ended")["piat"] == "231"
    assert holds() == ["load"]
    assert rows_of("SELECT count(*) FROM unit_hold x JOIN serial_state s ON s.hull = x.unit WHERE s.text = %s", hull)[
        0
    ] == (1,)


def test_a_check_weight_that_fails_holds_what_was_weighed_before_it(cast: Cast) -> None:
    """It was typed as 10.000 and showed 9.900: as if that had been typed at once."""
    scale = "W-3"
    cast.scan(Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][0], scale=scale, gross="12.20"))
    cast.scan(CheckWeight(scale=scale, shown="10.000"))
    checked = Event.objects.filter(kind="check_weighed").order_by("-id")[0].happened
    assert (checks_about(scale, checked)[0] or {})["passed"] is True
    right(cast, scale, "check_weighed", "", expect="AMOUNT-UNREADABLE")
    assert right(cast, scale, "check_weighed", "9.900").outcome in ("accepted", "flagged")
    assert holds("CHECK-WEIGHT-FAILS") == ["charge"]
    assert (checks_about(scale, checked)[0] or {})["passed"] is False
    assert rows_of("SELECT passed FROM instrument_state WHERE checked_at = %s", checked) == [(False,)]
    # A weighing told of a time after it is judged by it.
    late = Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][1], scale=scale, gross="12.20")
    assert cast.late(late, checked + timedelta(seconds=5)).code == "SCALE-FAILED"
    assert right(cast, scale, "check_weighed", "10.010").outcome == "accepted"
    assert (checks_about(scale, checked)[0] or {})["passed"] is True


def test_a_certificate_is_what_it_really_says(cast: Cast) -> None:
    """A value read off a certificate after its lot was released: outside its limits, what is left of it is held."""
    code = cast.scan(
        Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2500", amounts=("500",)), person=STORES
    ).made["codes"][0]
    cast.scan(Certify(container=code, lot_on_certificate="V-2500", values={"mfi": "3.5", "density": "0.938"}),
              person=STORES)  # fmt: skip
    cast.scan(Release(container=code, reason="in limits"), person=QUALITY)
    lot = str(rows_of("SELECT uid FROM unit WHERE lot_no = 'V-2500' AND kind = 'lot'")[0][0])
    names = dict(rows_of("SELECT quantity, n FROM reading WHERE uom = ''"))
    assert right(cast, code, "certified", "0.939", names["density"]).outcome == "accepted"
    assert (certificate_of(lot) or {})["values"] == {"mfi": "3.5", "density": "0.939"}
    assert right(cast, code, "certified", "9.9", names["mfi"]).outcome == "flagged"
    assert holds() == ["lot"]
    assert said("certified")["values"] == {"mfi": "9.9", "density": "0.939"}


@pytest.mark.parametrize("text", ["0", "-4.1", "thin"])
def test_a_thickness_is_more_than_nothing(text: str) -> None:
    thin, trouble = _thickness(Inspect(hull="", verdict="pass", thickness={"Z1": text}), {"Z1": {"least_mm": "3.4"}})
    assert (thin, "is not a thickness for Z1" in trouble) == ([], True)
