"""What comparing records shows: runs, last digits, pace; the chances against scipy and against many honest series."""

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from math import isclose
from random import Random

import pytest
from scipy.stats import chi2, chisquare, norm

from trace.quality.unlike.boxes import A_SHARE, Exchange, Taken, exchanges
from trace.quality.unlike.figures import ENOUGH, above_chi_square_9, last_digits, runs
from trace.quality.unlike.pace import Done, Stage, in_two_places, to_and_fro, too_quick, unlike_stages

DAWN = datetime(2026, 6, 8, 6, tzinfo=UTC)


def after(seconds: float) -> datetime:
    return DAWN + timedelta(seconds=seconds)


@pytest.mark.parametrize("value", [0.01, 1, 8.3, 16.92, 40, 104, 300])
def test_chi_square_of_nine_degrees_is_scipys(value: float) -> None:
    assert isclose(above_chi_square_9(value), chi2.sf(value, 9), rel_tol=1e-6)


def test_the_textbooks_five_per_cent_point() -> None:
    # Table of chi-square, 9 degrees of freedom: 16.919 (in every textbook).
    assert isclose(above_chi_square_9(16.919), 0.05, abs_tol=1e-5)


def shown(rng: Random, count: int, scatter: float) -> list[str]:
    return [f"{rng.gauss(14.0, scatter):.2f}" for _ in range(count)]


def test_chi_square_is_scipys_against_the_same_expectation() -> None:
    rng = Random(5)
    figures = [f"{14 + rng.randrange(-8, 9) / 100:.2f}"[:-1] + rng.choice("05") for _ in range(60)]
    found = last_digits(figures, 0.01)
    assert found is not None and found.often == (0, 5)
    values = [float(figure) for figure in figures]
    middle = sum(values) / 60
    scatter = (sum((value - middle) ** 2 for value in values) / 60) ** 0.5
    steps = range(1300, 1501)
    shares = [sum(_at(n, middle, scatter) for n in steps if n % 10 == digit) for digit in range(10)]
    seen = Counter(round(value * 100) % 10 for value in values)
    expected = [share / sum(shares) * 60 for share in shares]
    assert isclose(found.chi_square, chisquare([seen[d] for d in range(10)], expected).statistic, rel_tol=1e-3)


def _at(n: int, middle: float, scatter: float) -> float:
    return float(norm.cdf((n + 0.5) / 100, middle, scatter) - norm.cdf((n - 0.5) / 100, middle, scatter))


def test_honest_figures_are_hardly_ever_named() -> None:
    """Of 3,000 honest series of several widths: a run in fewer than one in 300, last digits in none."""
    rng = Random(3)
    series = [shown(rng, 20 + 3 * (n % 40), (0.02, 0.03, 0.05, 0.2)[n % 4]) for n in range(3000)]
    assert sum(bool(runs(one)) for one in series) < 10
    assert not [one for one in series if last_digits(one, 0.01)]


def test_a_run_is_named_with_how_long_it_is() -> None:
    figures = [*shown(Random(1), 12, 0.05), *["14.02"] * 7, *shown(Random(2), 5, 0.05)]
    (run,) = runs(figures)
    assert (run.first, run.length) == (12, 7) and run.one_in > 1000


def test_always_the_same_is_a_run_and_three_are_none() -> None:
    assert [run.length for run in runs(["48"] * 12)] == [12]
    assert runs(["48"] * 3) == [] and runs([]) == []


def test_a_process_that_often_agrees_is_given_its_runs() -> None:
    """Of figures that take three values only, four alike are nothing."""
    rng = Random(8)
    assert not runs([rng.choice(("14.00", "14.00", "14.01", "13.99")) for _ in range(60)])


def test_digits_are_not_asked_of_a_few() -> None:
    assert last_digits(["14.00"] * (ENOUGH - 1), 0.01) is None
    assert last_digits(["14.00"] * 40, 0) is None


def test_quicker_than_hands_needs_three_in_a_row_on_different_tubs() -> None:
    quick = [Done(after(8 * n), n) for n in range(4)]
    assert [len(stretch) for stretch in too_quick(quick)] == [4]
    assert too_quick(quick[:2]) == []
    assert too_quick([Done(after(20 * n), n) for n in range(9)]) == []
    # Two bags into one tub are one charge going on.
    assert too_quick([Done(after(8 * n), 7) for n in range(4)]) == []


def test_two_places_at_once() -> None:
    work = [Done(after(0), 1, "W-3"), Done(after(20), 2, "W-4"), Done(after(200), 3, "W-3")]
    assert [(a.where, b.where) for a, b in in_two_places(work, timedelta(seconds=30))] == [("W-3", "W-4")]


def test_to_and_fro_is_three_changes_in_a_while() -> None:
    work = [Done(after(120 * n), n, ("W-3", "W-4")[n % 2]) for n in range(4)]
    assert len(to_and_fro(work)) == 1
    assert to_and_fro(work[:3]) == []
    assert to_and_fro([Done(after(1200 * n), n, ("W-3", "W-4")[n % 2]) for n in range(6)]) == []


def cooks(rng: Random, count: int) -> Iterator[tuple[int, list[tuple[str, datetime]]]]:
    for unit in range(count):
        began = after(7200 * unit)
        heat = began + timedelta(minutes=14 + rng.gauss(0, 0.7))
        out = heat + timedelta(minutes=5 + rng.gauss(0, 0.5))
        yield unit, [("start", began), ("heat", heat), ("out", out)]


def test_a_stage_of_another_length_is_named_beside_what_is_usual() -> None:
    told = dict(cooks(Random(4), 12))
    assert unlike_stages(told) == []
    (_start, began), *_rest = told[5]
    told[5] = [("start", began), ("heat", began + timedelta(minutes=26)), ("out", began + timedelta(minutes=31))]
    (found,) = unlike_stages(told)
    assert isinstance(found, Stage) and (found.unit, found.name, round(found.minutes)) == (5, "heat", 26)
    assert round(found.usual) == 14


def test_few_cooks_say_nothing_of_what_is_usual() -> None:
    told = dict(cooks(Random(4), 4))
    told[9] = [("start", after(0)), ("heat", after(3600))]
    assert unlike_stages(told) == []


A, B = 1, 2


def loads(*boxes: str, left: int | None = 812) -> list[Taken]:
    """Loads one hour apart, each with the boxes that it took from, A or B; A has so many of 1,000 left now."""
    state = {"A": (A, 1000, left), "B": (B, 500, 400)}
    found = []
    for n, names in enumerate(boxes):
        for k, name in enumerate(names):
            box, held, rest = state[name]
            found.append(Taken(after(3600 * n + 60 * k), box, n, held, rest))
    return found


def test_a_box_taken_in_place_of_one_that_is_not_empty_is_named_once_each_way() -> None:
    found = list(exchanges(loads("A", "A", "B", "A", "B", "A"), [], A_SHARE))
    assert found == [Exchange(after(7200), A, B, 1, 2, 812), Exchange(after(10800), B, A, 2, 3, 400)]


def test_a_box_that_ran_out_was_put_away_or_was_scanned_beside_the_other_is_not() -> None:
    for left in (0, 50, None):  # a few pieces short of its label it is empty all the same
        assert not list(exchanges(loads("A", "B", left=left), [], A_SHARE)), left
    assert list(exchanges(loads("A", "B", left=51), [], A_SHARE))
    assert not list(exchanges(loads("A", "B"), [(A, after(1800))], A_SHARE))
    assert list(exchanges(loads("A", "B"), [(A, after(3700)), (B, after(1800))], A_SHARE))
    for told in (("AB", "B"), ("A", "AB", "B"), ("A", "A")):
        assert not list(exchanges(loads(*told), [], A_SHARE)), told
