"""Exact tests and chances: against scipy, an enumeration of our own, and published worked examples.

Sources. The first table is the example of scipy.stats.fisher_exact in its manual; the lady tasting tea (Fisher 1935)
and Fisher's twins (convictions of like-sexed twins of criminals, 1925) stand in the manual of R's fisher.test, whose
p are told here from memory. Penicillin and rabbits (Agresti 1990, pp 231-237) is the example of R's mantelhaen.test,
which prints X-squared 3.9286 and, exact, S = 16 and p 0.03994; its counts are from memory. Fifteen p-values:
Benjamini and Hochberg 1995, section 3.2, from memory. All else is worked out here by other means.
"""

from fractions import Fraction
from itertools import product
from math import comb, isnan, nan
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trace.quality import chances
from trace.quality.exact import Table, TableError, at_least, exact_bounds, fisher, stratified, table_chances

RABBITS = ((0, 6, 0, 5), (3, 3, 0, 6), (6, 0, 2, 4), (5, 1, 6, 0), (2, 0, 5, 0))
FIFTEEN = (
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0,
)  # fmt: skip


def table(a: int, b: int, c: int, d: int) -> Table:
    """[[a, b], [c, d]]: bad and good with it above, without it below."""
    return Table(a, a + b, a + c, a + b + c + d)


@pytest.mark.parametrize(
    ("cells", "more", "both"),
    [
        ((8, 2, 1, 5), None, 0.0350),
        ((3, 1, 1, 3), 0.2429, None),
        ((10, 3, 2, 15), 0.000465, 0.000537),
        ((4, 1, 76, 319), 0.00637, None),
    ],
)
@pytest.mark.outside("published", "scipy's and R's manuals of Fisher's exact test; some p from memory")
def test_published_tables(cells: tuple[int, int, int, int], more: float | None, both: float | None) -> None:
    found = table_chances(table(*cells))
    assert more is None or found[0] == pytest.approx(more, rel=2e-3)
    assert both is None or found[1] == pytest.approx(both, rel=2e-3)


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 3000), st.data())
@pytest.mark.outside("library", "scipy: stats.fisher_exact")
def test_fisher_is_scipy_s(hulls: int, data: st.DataObject) -> None:
    bad, exposed = data.draw(st.integers(0, min(hulls, 40))), data.draw(st.integers(0, hulls))
    hit = data.draw(st.integers(max(0, bad + exposed - hulls), min(bad, exposed)))
    cells = [[hit, exposed - hit], [bad - hit, hulls - exposed - bad + hit]]
    more, both = table_chances(Table(hit, exposed, bad, hulls))
    assert more == pytest.approx(stats.fisher_exact(cells, alternative="greater")[1], rel=1e-7, abs=1e-300)
    assert both == pytest.approx(stats.fisher_exact(cells)[1], rel=1e-7, abs=1e-300)


def test_many_tables_at_once_are_each_of_them() -> None:
    rng = np.random.default_rng(5)
    exposed = rng.integers(0, 5000, 400)
    hit = np.array([rng.hypergeometric(60, 4940, n) for n in exposed])
    more, both = fisher(hit, exposed, 60, 5000)
    for n in range(0, 400, 9):
        assert (more[n], both[n]) == table_chances(Table(int(hit[n]), int(exposed[n]), 60, 5000))


def test_a_table_that_cannot_be_is_refused() -> None:
    for hit, exposed, bad, hulls in ((6, 5, 9, 20), (2, 3, 1, 20), (1, 30, 5, 20), (0, 0, 9, 5), (0, 18, 5, 20)):
        with pytest.raises(TableError):
            table_chances(Table(hit, exposed, bad, hulls))


def test_rates_and_lift() -> None:
    one = Table(8, 412, 9, 2380)
    assert (one.coverage, one.rate_with, one.lift) == pytest.approx((8 / 9, 8 / 412, 5.13), rel=1e-3)
    assert one.rate_without == 1 / 1968
    assert exact_bounds(8, 412) == pytest.approx((0.0084, 0.0379), abs=5e-5)
    assert isnan(Table(0, 0, 0, 0).lift)


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 400), st.data())
@pytest.mark.outside("library", "scipy: stats.binomtest(...).proportion_ci, exact")
def test_bounds_of_a_rate_are_scipy_s(tries: int, data: st.DataObject) -> None:
    hits = data.draw(st.integers(0, tries))
    theirs = stats.binomtest(hits, tries).proportion_ci(method="exact")
    assert exact_bounds(hits, tries) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


@pytest.mark.outside("published", "Agresti 1990, pp 231-237, by R's mantelhaen.test; counts from memory")
def test_penicillin_and_rabbits() -> None:
    tables = [table(*cells) for cells in RABBITS]
    found = stratified(tables)
    assert found.exact
    assert sum(t.hit for t in tables) == 16
    assert found.statistic == pytest.approx(3.9286, abs=5e-5)
    assert found.p_both == pytest.approx(0.03994, abs=5e-6)


def enumerated(tables: list[Table]) -> tuple[Fraction, Fraction]:
    """(as many or more, no likelier): every way in which each stratum can fall, in whole numbers."""
    ways = [[(x, comb(t.bad, x) * comb(t.hulls - t.bad, t.exposed - x)) for x in range(t.exposed + 1)] for t in tables]
    sums: dict[int, int] = {}
    for fall in product(*ways):
        weight = 1
        for _x, w in fall:
            weight *= w
        total = sum(x for x, _w in fall)
        sums[total] = sums.get(total, 0) + weight
    seen, all_ = sum(t.hit for t in tables), sum(sums.values())
    more = sum(w for total, w in sums.items() if total >= seen)
    return Fraction(more, all_), Fraction(sum(w for w in sums.values() if w <= sums[seen]), all_)


@pytest.mark.outside("identity", "the exact p of strata is the share of all ways in which they can fall")
def test_strata_against_every_way_they_can_fall() -> None:
    random = Random(3)
    for _ in range(60):
        tables = []
        for _n in range(random.randint(1, 3)):
            a, b, c, d = (random.randint(0, 6) for _ in range(4))
            tables.append(table(a, b, c, d))
        found, (more, both) = stratified(tables), enumerated(tables)
        assert found.p_more == pytest.approx(float(more), rel=1e-9)
        assert found.p_both == pytest.approx(float(both), rel=1e-9)


def test_one_stratum_is_fisher_and_empty_ones_say_nothing() -> None:
    one = Table(4, 80, 5, 400)
    assert stratified([one, Table(0, 0, 0, 0)]).p_more == pytest.approx(table_chances(one)[0])
    assert isnan(stratified([Table(0, 0, 5, 10)]).statistic)
    assert stratified([]).p_more == 1


def test_very_many_bad_ones_are_told_by_the_normal_curve() -> None:
    tables = [Table(2530, 5000, 5000, 10000), Table(1530, 3000, 2000, 4000)]
    found = stratified(tables)
    assert not found.exact
    exact = stats.hypergeom(10000, 5000, 5000), stats.hypergeom(4000, 2000, 3000)
    x, y = np.arange(5001), np.arange(2001)
    sums = np.convolve(exact[0].pmf(x), exact[1].pmf(y))
    assert found.p_more == pytest.approx(sums[4060:].sum(), rel=0.02)


@pytest.mark.outside("published", "Benjamini and Hochberg 1995, section 3.2, from memory")
def test_fifteen_p_values_of_which_the_step_up_keeps_four() -> None:
    found = chances.corrected(np.array(FIFTEEN))
    assert (found < 0.05).sum() == 4
    assert sum(p < 0.05 / 15 for p in FIFTEEN) == 3
    assert found == pytest.approx(stats.false_discovery_control(FIFTEEN))


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(0, 1), max_size=40))
@pytest.mark.outside("library", "scipy: stats.false_discovery_control")
def test_the_step_up_is_scipy_s(p: list[float]) -> None:
    assert chances.corrected(np.array(p)) == pytest.approx(stats.false_discovery_control(p) if p else [])


def test_the_window() -> None:
    assert chances.in_some_window(5, 0.15) == pytest.approx(0.00223, abs=5e-6)
    rng = np.random.default_rng(1)
    drawn = rng.random((200_000, 4))
    assert chances.in_some_window(4, 0.3) == pytest.approx((np.ptp(drawn, axis=1) <= 0.3).mean(), abs=0.002)
    assert chances.in_some_window(1, 0.1) == chances.in_some_window(3, 1.0) == 1


def test_time_in_use() -> None:
    assert chances.by_time_in_use(4, 5, 960, 4740) == pytest.approx(0.00348, abs=5e-6)
    assert at_least(3, 9, 0.2) == pytest.approx(stats.binom.sf(2, 9, 0.2))


def test_how_many_without_a_failure() -> None:
    assert chances.tries_without_failure(0.05) == pytest.approx(58.4, abs=0.05)
    assert chances.tries_without_failure(8 / 412) == pytest.approx(152.8, abs=0.05)
    assert chances.whole_tries(chances.tries_without_failure(8 / 412)) == 153
    assert chances.rate_after_none(59) == pytest.approx(0.0495, abs=5e-5)
    assert chances.tries_to_find_one(21, 412) == 54
    assert chances.tries_to_find_one(0, 10) == 10


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(0, 9), min_size=1, max_size=25), st.lists(st.integers(0, 9), min_size=1, max_size=25))
@pytest.mark.outside("library", "scipy: stats.mannwhitneyu")
def test_doses_are_compared_as_scipy_does(bad: list[int], good: list[int]) -> None:
    found = chances.doses(np.array(bad, float), np.array(good, float))
    if len({*bad, *good}) == 1:
        assert found is None
        return
    assert found is not None
    theirs = stats.mannwhitneyu(bad, good, alternative="greater", method="asymptotic")
    assert found.p_more == pytest.approx(min(1, theirs.pvalue), abs=1e-9)
    assert found.more_in_bad == pytest.approx(theirs.statistic / (len(bad) * len(good)))


def test_nothing_is_compared_with_nobody() -> None:
    assert chances.doses(np.array([]), np.array([1.0])) is None
    assert chances.tries_without_failure(nan) == float("inf")


@pytest.mark.outside("published", "Fisher 1935, The Design of Experiments: all eight cups told right, 1 in 70")
def test_all_eight_cups() -> None:
    assert table_chances(table(4, 0, 0, 4))[0] == pytest.approx(1 / 70)


@pytest.mark.outside("published", "men and women who diet, a common example of Fisher's exact test; p from memory")
def test_who_diets() -> None:
    """Of 12 men one diets, of 12 women nine."""
    assert table_chances(table(9, 3, 1, 11)) == pytest.approx((0.001379728, 0.002759456), rel=1e-6)


@pytest.mark.outside("published", "Newcombe 1998, Statistics in Medicine 17, table I: Clopper-Pearson; from memory")
@pytest.mark.parametrize(
    ("hits", "tries", "low", "high"),
    [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0.0, 0.1684), (1, 29, 0.0009, 0.1776)],
)
def test_bounds_of_four_published_rates(hits: int, tries: int, low: float, high: float) -> None:
    assert exact_bounds(hits, tries) == pytest.approx((low, high), abs=5.1e-5)


@pytest.mark.outside("published", "Wilks 1941: 59 and 299 samples for 95 and 99 % at 95 % confidence, from memory")
def test_samples_without_a_failure() -> None:
    needed = [chances.whole_tries(chances.tries_without_failure(rate)) for rate in (0.05, 0.01)]
    assert needed == [59, 299]


@pytest.mark.outside("published", "Hanley and Lippman-Hand 1983, the rule of three: 3 of n after none; from memory")
@pytest.mark.parametrize("tries", [30, 100, 1000])
def test_the_rule_of_three(tries: int) -> None:
    assert chances.rate_after_none(tries) == pytest.approx(3 / tries, rel=0.06)


@pytest.mark.outside("library", "scipy: stats.hypergeom")
@pytest.mark.parametrize(("bad", "lot"), [(21, 412), (1, 20), (5, 40)])
def test_samples_that_find_one_are_scipy_s(bad: int, lot: int) -> None:
    tries = chances.tries_to_find_one(bad, lot)
    assert stats.hypergeom.pmf(0, lot, bad, tries) <= 0.05 + 1e-12 < stats.hypergeom.pmf(0, lot, bad, tries - 1)


@pytest.mark.outside("library", "scipy: stats.binomtest, more than by chance")
def test_time_in_use_is_scipy_s() -> None:
    theirs = stats.binomtest(4, 5, 960 / 5700, alternative="greater").pvalue
    assert chances.by_time_in_use(4, 5, 960, 4740) == pytest.approx(theirs, rel=1e-9)


@pytest.mark.outside("library", "scipy: stats.beta, the range of n uniform numbers has the distribution Beta(n - 1, 2)")
@pytest.mark.parametrize(("cases", "share"), [(2, 0.1), (5, 0.15), (9, 0.4)])
def test_a_window_is_scipy_s(cases: int, share: float) -> None:
    assert chances.in_some_window(cases, share) == pytest.approx(stats.beta.cdf(share, cases - 1, 2), rel=1e-9)


@pytest.mark.outside("library", "scipy: stats.fisher_exact of the table turned on its side")
def test_a_table_turned_on_its_side() -> None:
    for cells in ((8, 2, 1, 5), (3, 7, 12, 40)):
        a, b, c, d = cells
        turned = stats.fisher_exact([[a, c], [b, d]])[1]
        assert table_chances(table(*cells))[1] == pytest.approx(turned, rel=1e-9)
