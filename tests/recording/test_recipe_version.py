"""A load is judged by the recipe it was opened for, whatever the product says since."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cast import LEAD, WO_RED, Cast, rows_of, statements
from trace.demo import plant as invented
from trace.recording.acts.loading import PlaceInserts, ReadyMould
from trace.recording.acts.setup import Define
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.weighing import Weigh


def change(cast: Cast, **fields: Any) -> None:
    cast.scan(Define(kind="product", key="T430", body={**invented.products()["T430"], **fields}), person="P-09")


def placed(cast: Cast, load: int) -> int:
    count: int = rows_of("SELECT count(*) FROM edge WHERE child = %s AND role = 'insert'", load)[0][0]
    return count


def opened(cast: Cast, mould: str, arm: str) -> int:
    cast.scan(ReadyMould(mould=mould, order=WO_RED, arm=arm))
    load: int = rows_of("SELECT max(id) FROM unit WHERE kind = 'load'")[0][0]
    return load


def test_each_load_keeps_the_recipe_it_was_opened_for(cast: Cast) -> None:
    old = opened(cast, "T430-01", "S1")
    change(cast, inserts={"S1": "M8-N"})
    new = opened(cast, "T430-02", "S2")
    for mould in ("T430-01", "T430-02"):
        cast.scan(PlaceInserts(mould=mould, box=cast["m8"]))
    assert (placed(cast, old), placed(cast, new)) == (8, 1)


def test_an_earlier_recipe_is_read_once(cast: Cast) -> None:
    opened(cast, "T430-01", "S1")

    def place(position: str) -> int:
        scan = PlaceInserts(mould="T430-01", box=cast["m8"], positions=(position,))
        return len(statements(lambda: cast.scan(scan)))

    plain = place("S1")
    change(cast, inserts={"S1": "M8-N"})
    place("S2")
    assert place("S3") == plain


@pytest.mark.parametrize("mode", ["asks", "tells"])
def test_a_charge_keeps_the_version_it_was_weighed_to_and_its_material_is_looked_at(cast: Cast, mode: str) -> None:
    cast.charge("foam", cast["foam"][0], cast["boxes"][0])
    assert rows_of("SELECT (about->>'recipe')::int FROM unit WHERE kind = 'charge'") == [(1,)]
    skin, foam, inner = invented.products()["T430"]["layers"]
    change(cast, layers=[skin, {**foam, "material": "MD-80"}, inner])
    opened(cast, "T430-01", "S1")
    tip = TipTub(mould="T430-01", tub=cast["boxes"][0])
    answer = cast.scan(tip, person=LEAD, mode=mode, expect="TUB-OTHER-MATERIAL")
    assert (answer.outcome, answer.code) == ({"asks": "refused", "tells": "flagged"}[mode], "TUB-OTHER-MATERIAL")


def test_a_layer_that_the_recipe_has_not_is_refused(cast: Cast) -> None:
    weigh = Weigh(order=WO_RED, layer="lining", box=cast["red"], tub=cast["tubs"][0], scale="W-3", gross="12.20")
    assert cast.scan(weigh, expect="LAYER-NOT-IN-RECIPE").outcome == "refused"
