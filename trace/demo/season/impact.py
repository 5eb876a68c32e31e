"""What the laboratory drops a dart on: cut-outs of the hatches, of each arm of the shuttle once in four weeks."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random

from trace.codes.staircase import next_height, reckoned
from trace.demo.season.incidents import WRONG_LOT
from trace.demo.season.plant import LONG_ARMS, PRODUCTS
from trace.demo.season.script import Step
from trace.demo.season.truth import Made, Tested, share_of
from trace.demo.season.writer import Writer
from trace.demo.season.year import DAYS
from trace.recording.acts.holds import ReleaseHold
from trace.recording.acts.impact import DropDart, EndImpact

EVERY, FIRST = 28, 40
# Half of the specimens fail at so many metres, with this spread from specimen to specimen and from hull to hull.
TOUGH_M, HULLS_M, SPECIMENS_M = 1.28, 0.06, 0.11
# By how much a wall fails sooner whose inner layer is of the wrong grade, and from which share of it on brittle.
LOST_M, BRITTLE_FROM = 0.75, 0.3
FEWEST_DROPS, MOST_DROPS, RARER = 10, 30, 5
TESTER, MANAGER = "P-15", "P-06"


def drop_darts(w: Writer, rng: Random) -> None:
    """Adds the tests to the truth and to the script: on a day when nobody works, on a hull of the days before."""
    for day in range(FIRST, DAYS - 6, EVERY):
        free = next(one for one in range(day, day + 8) if not w.year.is_worked(one))
        for n, arm in enumerate(LONG_ARMS):
            at = w.year.at(free, 8.5 + 2.2 * n + rng.random())
            hulls = [
                made for made in w.truth.hulls()
                if made.arm == arm and made.fate != "scrapped" and "impact" in PRODUCTS[made.product]
                and free - EVERY <= made.day < free - 2
            ]
            if hulls:
                w.script.steps += _tested(w, rng, max(hulls, key=lambda made: made.demoulded_at), at)


def _tested(w: Writer, rng: Random, made: Made, at: datetime) -> Iterator[Step]:
    wrong = share_of(made, WRONG_LOT)
    half = rng.gauss(TOUGH_M, HULLS_M) - (LOST_M * wrong if wrong > BRITTLE_FROM else 0)
    step, least = (Decimal(PRODUCTS[made.product]["impact"][name]) for name in ("step_m", "least_m"))
    height, drops = Decimal("1.20"), list[tuple[Decimal, bool]]()
    brittle = 0
    while len(drops) < FEWEST_DROPS or (len(drops) < MOST_DROPS and _rarer(drops) < RARER):
        failed = float(height) > rng.gauss(half, SPECIMENS_M)
        shatters = failed and wrong > BRITTLE_FROM and rng.random() < 0.7
        brittle += shatters
        drops.append((height, failed))
        at += timedelta(minutes=rng.uniform(2, 6))
        command = DropDart(
            unit=made.serial, height=f"{height:f}", temperature=f"{rng.uniform(-41.6, -38.2):.1f}",
            result="brittle" if shatters else "ductile" if failed else "pass",
        )  # fmt: skip
        yield Step(at=at, command=command, person=TESTER, station="impact")
        height = next_height(height, failed, step)
    found = reckoned(drops, step)
    fails = brittle > 0 or found is None or found.mean < least
    held = w.name("impact")
    ended = at + timedelta(minutes=rng.uniform(1, 4))
    yield Step(at=ended, command=EndImpact(unit=made.serial), person=TESTER, station="impact", holds=held)
    w.truth.tests.append(Tested(made.serial, round(half, 3), round(wrong, 3), fails, ended.isoformat()))
    if fails:
        reason = "looked at by hand, no other specimen failed; concession"
        release = ReleaseHold(hold=held, reason=reason)
        yield Step(
            at=ended + timedelta(hours=2), command=release, person=MANAGER, station="end a hold", each=held
        )


def _rarer(drops: list[tuple[Decimal, bool]]) -> int:
    failed = sum(bad for _height, bad in drops)
    return min(failed, len(drops) - failed)
