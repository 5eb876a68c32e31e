"""What a vessel holds of each lot, as recorded: least and most, and three models that all add up to what is left."""

from fractions import Fraction
from typing import Any

import pytest

from tests.cast import QUALITY, WO_RED, Cast
from trace.genealogy.answer import what_was_known
from trace.genealogy.find import carrier_of
from trace.genealogy.mixing import MODELS
from trace.genealogy.vessel import Held, held_by
from trace.recording.acts.counting import Count
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import Weigh

KG = 1_000_000


def held(vessel: str) -> Held | None:
    known, _size = what_was_known()
    carrier = carrier_of(vessel, known)
    assert carrier is not None
    return held_by(carrier[0], vessel, known)


def by_lot(found: Held | None) -> dict[str | None, Any]:
    assert found is not None
    for model in MODELS:
        assert sum(one.models[model] for one in found.lots) == found.left
    return {
        one.lot.lot_no: ((one.bounds.least, one.bounds.most), *(one.models[model] for model in MODELS))
        for one in found.lots
    }


def filled(cast: Cast) -> str:
    """30 kg of V-2288, on it 10 kg of V-2291, and 12.2 kg drawn."""
    vessel: str = cast["vessels"][0]
    for box, amount in (("red", "30.00"), ("red2", "10.00")):
        cast.scan(TopUp(source=cast[box], into=vessel, amount=amount, commingle=True))
    cast.scan(Weigh(order=WO_RED, layer="skin", box=vessel, tub=cast["tubs"][0], scale="W-3", gross="12.20"))
    return vessel


@pytest.mark.outside("identity", "under every model the lots in a vessel add up to what is left in it")
def test_two_lots(cast: Cast) -> None:
    assert by_lot(held(filled(cast))) == {
        # (least, most), first in first out, fully mixed, last in first out
        "V-2288": ((17_800_000, 27_800_000), 17_800_000, Fraction(20_850_000), 27_800_000),
        "V-2291": ((0, 10 * KG), 10 * KG, Fraction(6_950_000), 0),
    }


def test_out_of_another_vessel_and_counted(cast: Cast) -> None:
    """A mix that is poured on goes as it would be mixed; what was not found was taken like a draw."""
    one, two = filled(cast), cast["vessels"][1]
    cast.scan(TopUp(source=one, into=two, amount="4.00", commingle=True))
    assert by_lot(held(two))["V-2291"][1:] == (KG, KG, KG)
    cast.scan(Count(box=two, amount="3.00", again="3.00", reason="weighed"), person=QUALITY)
    assert by_lot(held(two))["V-2288"][1:] == (2 * KG, Fraction(9 * KG, 4), 3 * KG)


def test_proved_empty_it_holds_nothing_of_before(cast: Cast) -> None:
    vessel = filled(cast)
    cast.scan(ProveEmpty(vessel=vessel), mode="tells")
    assert held(vessel) is None
    cast.scan(TopUp(source=cast["red2"], into=vessel, amount="5.00", commingle=True))
    assert by_lot(held(vessel)) == {"V-2291": ((5 * KG, 5 * KG), 5 * KG, 5 * KG, 5 * KG)}
