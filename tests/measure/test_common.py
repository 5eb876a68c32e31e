"""The measurement of the comparison: a small plant, in which the planted cause comes first."""

from trace.measure import common


def test_it_says_the_size_the_place_and_the_verdict() -> None:
    lines = list(common.run({"hulls": 3000, "causes": 400, "bad": 20, "times": 1, "seed": 2}))
    assert lines[0].startswith("3000 hulls, 400 causes, 216000 pairs (72 a hull), ")
    assert "the planted cause is number 1" in lines[1]
    assert "target 2.0 s met" in lines[2]
