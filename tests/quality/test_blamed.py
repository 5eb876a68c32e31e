"""What people blame first and chance explains is named; what stands out is not, nor what all hulls have."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from trace.drawings.chance_chart import Point, chance_charts
from trace.quality.blamed import blamed
from trace.quality.common_cause import CommonCause
from trace.quality.factors import Factor
from trace.quality.incidence import CERTAIN, incidence

HULLS = 40
BAD = set(range(10))


def answer(sets: dict[Factor, set[int]]) -> CommonCause:
    """As much of an answer as is looked at here."""
    rows = np.array([(n, hull, CERTAIN) for n, has in enumerate(sets.values()) for hull in has])
    given: dict[str, Any] = {
        "hulls": range(HULLS), "bad": tuple(sorted(BAD)), "pairs": incidence(HULLS, len(sets), *rows.T),
        "factors": tuple(sets),
    }  # fmt: skip
    return cast("CommonCause", SimpleNamespace(**given))


def test_the_mould_everybody_blames_is_named_where_chance_explains_it() -> None:
    found = blamed(answer({
        Factor("mould", "T430-01"): {6, 7, 8, 9, *range(26, 40)},
        # Six of ten bad and sixteen of thirty good: p about 0.5.
        Factor("mould", "T430-02"): {*range(6), *range(10, 26)},
        # Nine of ten bad and none of the good: no chance.
        Factor("arm", "S1"): set(range(9)),
        Factor("oven", "OVEN-1"): set(range(HULLS)),  # all have it
        Factor("shift", "night"): {0, 1, 2, 3, 20, 21},  # not even half
        Factor("person", "P-01", "weighed"): set(range(0, 40, 2)),  # a part of what somebody did
    }))  # fmt: skip
    assert [(one.factor.key, one.table.hit, one.table.exposed) for one in found] == [("T430-02", 6, 22)]


def test_the_suspect_s_point_has_its_name_also_where_others_stand_beside_it() -> None:
    """Black 1 is what is looked for; its neighbours may go without."""
    near = [Point(n, f"lot N-04{n}0 of a long name", 9, 0.22 + n / 100) for n in range(2, 6)]
    charts = chance_charts([Point(1, "M8-N lot N-0417", 9, 0.22, first=True), *near], 10, [0.0] * 10, "")
    for chart in (charts.wide, charts.narrow):
        [said] = [words for words in chart.halo if words.kind == "label-strong"]
        assert said.text == "M8-N lot N-0417"
        assert 0 < said.y < chart.height
