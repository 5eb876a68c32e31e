"""Writes the season: the year's cooks and everything around them, as one script, with the truth beside it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from decimal import Decimal
from random import Random

from trace.demo.season.complaints import call, complain
from trace.demo.season.crossed import crossings
from trace.demo.season.gate import trucks
from trace.demo.season.goods_in import keep_stocked, suspect_inserts, wrong_grade
from trace.demo.season.habits import Scale
from trace.demo.season.happenings import day_on_paper, refurbishment, scale_reads_low, set_up, works_orders
from trace.demo.season.impact import drop_darts
from trace.demo.season.incidents import PAPER_DAY, SUSPECT_INSERTS, UNLABELLED, WRONG_GRADE
from trace.demo.season.leaving import spill, sweep, throw_away
from trace.demo.season.moulding import cook
from trace.demo.season.owners import register
from trace.demo.season.plant import INSTRUMENTS
from trace.demo.season.renewed import renew
from trace.demo.season.returns import come_back
from trace.demo.season.schedule import WHOLE, Cook, plan
from trace.demo.season.script import Script, Step
from trace.demo.season.stores import Stores
from trace.demo.season.truth import Truth
from trace.demo.season.writer import Writer
from trace.demo.season.year import DAYS, STARTS, Year

SEED = 1

# What befalls a cook here and there, beside what the incidents bring: how many of each in a whole year.
WEEK_ON_PAPER = range(PAPER_DAY - 2, PAPER_DAY + 5)
ODD = {"log missing": 1, "stopped": 2, "cooked again": 1, "given up": 1}


@dataclass(frozen=True)
class Season:
    steps: Sequence[Step]
    truth: Truth
    cooks: Sequence[Cook]


def write(
    seed: int, first: date, zone: tzinfo, mouldings: int = WHOLE, cooks: Sequence[Cook] | None = None
) -> Season:
    """The whole year that begins on `first`. cooks: these alone, out of the year's plan. Nothing is recorded by it; the
    same seed and first day give the same season."""
    year = Year(first, zone, _random(seed, "weather"))
    cooks = planned(seed, first, zone, mouldings) if cooks is None else cooks
    script = Script(year.at(0, 9), _random(seed, "scans"))
    rng = _random(seed, "work")
    scales = {key: Scale(step=_step(key)) for key in ("W-3", "W-4")}
    truth = Truth(seed, first.isoformat())
    beside = _random(seed, "looks"), _random(seed, "leaves")
    w = Writer(script, year, rng, *beside, Stores(_random(seed, "stores")), truth, scales)
    w.crossed = {number: one for one in crossings(cooks) for number in one.cooks}
    odd = _odd(_random(seed, "odd"), cooks)
    w.odd = {number: what for number, what in odd.items() if number not in w.crossed}
    for work in (
        set_up(w), works_orders(w, cooks), keep_stocked(w), scale_reads_low(w), refurbishment(w), trucks(w), spill(w),
        throw_away(w), sweep(w),
    ):  # fmt: skip
        script.begin(year.at(0, 9), work)
    script.begin(year.at(w.on(SUSPECT_INSERTS.start - 6), 10.4), suspect_inserts(w))
    script.begin(year.at(w.on(WRONG_GRADE - 1), 11.2), wrong_grade(w))
    script.begin(year.at(0, 9), day_on_paper(w, [c.product for c in cooks if c.day == w.on(PAPER_DAY)]))
    for one in cooks:
        script.begin(year.at(one.day, STARTS[one.shift] + 0.1 + rng.random() * 4.4), cook(w, one))
    script.run()
    complain(w, _random(seed, "complaints"))
    register(w, _random(seed, "owners"))
    truth.call = call(w)
    drop_darts(w, _random(seed, "impact"))
    come_back(w, _random(seed, "returns"))
    renew(w, _random(seed, "renewed"))
    return Season(sorted(script.steps, key=lambda step: step.at), truth, cooks)


def planned(seed: int, first: date, zone: tzinfo, mouldings: int = WHOLE) -> list[Cook]:
    """The cooks of that year, before anything is written of them."""
    return plan(Year(first, zone, _random(seed, "weather")), _random(seed, "plan"), mouldings)


def first_day(now: datetime) -> date:
    """The day on which a season begins that ends yesterday."""
    return (now - timedelta(days=DAYS + 1)).date()


def _random(seed: int, what: str) -> Random:
    return Random(f"{seed} {what}")  # noqa: S311 - nothing secret


def _step(scale: str) -> Decimal:
    return Decimal(INSTRUMENTS[scale]["resolution"])


def _odd(rng: Random, cooks: Sequence[Cook]) -> dict[int, str]:
    """Which cooks something odd befalls: long hulls, outside the weeks that matter to the incidents."""
    quiet = [
        c.number for c in cooks
        if c.product != "B60" and len(c.moulds) == 1 and c.product != "LID" and c.purpose == "production"
        and c.day > 70 and not any(c.day in days for days in (SUSPECT_INSERTS, UNLABELLED, WEEK_ON_PAPER))
    ]  # fmt: skip
    names = [name for name, count in ODD.items() for _ in range(count)]
    return dict(zip(rng.sample(quiet, min(len(quiet), len(names))), names, strict=False))
