"""Which hull has which cause, read in bulk: against the scope of each cause by itself."""

import pytest

from tests.genealogy.test_sharing import ARMS, LOTS, SCALES, Floor
from trace.genealogy.built import all_hulls
from trace.genealogy.causes import Cause, Holds, With
from trace.genealogy.sharing import shared_by
from trace.lookup import plant_now
from trace.quality import compared as bulk
from trace.quality.factors import Factor
from trace.quality.incidence import CERTAIN, OPEN

pytestmark = pytest.mark.django_db


def grades(found: bulk.Compared, factor: Factor) -> dict[int, int]:
    """The highest grade of each hull, by its number."""
    best: dict[int, int] = {}
    for hulls, grade in found.rows.get(factor, ()):
        for hull in hulls:
            best[int(hull)] = max(grade, best.get(int(hull), OPEN))
    return best


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.outside("identity", "all causes at once is each cause's own scope")
def test_every_cause_is_shared_as_its_scope_says(seed: int) -> None:
    floor = Floor(seed)
    answer = shared_by(Holds("A"))
    built = {hull: one.built for hull, one in all_hulls().items()}
    hulls = sorted(built)
    found = bulk.compared(hulls, built, answer.as_known_on, plant_now().calendar)
    asked: dict[Factor, Cause] = {
        **{Factor("arm", arm): With("arm", arm) for arm in ARMS},
        **{Factor("scale", scale): With("scale", scale) for scale in SCALES},
        **{Factor("lot", str(floor.drawing.id(lot))): Holds(lot) for lot in LOTS},
    }
    for factor, cause in asked.items():
        if factor not in found.rows:
            assert shared_by(cause).count("certain") == 0
            continue
        verdicts = {line.hull: line.verdict for line in shared_by(cause).lines}
        mine = grades(found, factor)
        for n, hull in enumerate(hulls):
            wanted = {"certain": CERTAIN, "may": OPEN, "cannot": None}[verdicts[hull]]
            assert mine.get(n) == wanted, (factor, floor.drawing.name(hull))
