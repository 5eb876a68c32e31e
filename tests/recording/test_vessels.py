"""What is poured together: the mix is as free as the less free of the two."""

from __future__ import annotations

import pytest

from tests.cast import LEAD, STORES, WO_RED, Cast
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.told_late.contents import worse


def test_powder_on_top_does_not_release_what_waits_in_quarantine(cast: Cast) -> None:
    delivery = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2400", amounts=("100",), vessel_kind="vessel")
    vessel = cast.scan(delivery, person=STORES).made["codes"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="5"), person=LEAD)
    weigh = Weigh(order=WO_RED, layer="skin", box=vessel, tub=cast["tubs"][0], scale="W-3", gross="12.20")
    assert cast.scan(weigh, expect="SOURCE-NOT-RELEASED").code == "SOURCE-NOT-RELEASED"


@pytest.mark.parametrize(
    ("heel", "added", "mix"),
    [
        (None, "released", "released"), ("released", "quarantine", "quarantine"),
        ("conditionally released", "released", "conditionally released"),
        ("quarantine", "conditionally released", "quarantine"), ("made before records", "released", "released"),
    ],
)  # fmt: skip
def test_the_less_free_of_two_stands(heel: str | None, added: str, mix: str) -> None:
    assert worse(added, heel) == mix
