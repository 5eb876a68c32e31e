"""A cook: the stages as they come, the peak of the air inside, the cooling, and what goes wrong with some of them."""

from collections.abc import Generator

from trace.demo.floor import OVENS_SET, STAGES
from trace.demo.season.habits import minutes
from trace.demo.season.incidents import DRIFT, DRIFT_C
from trace.demo.season.plant import MOULDS, PRODUCTS
from trace.demo.season.schedule import Cook
from trace.demo.season.truth import Made
from trace.demo.season.writer import Writer
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.oven import StartCook

# °C about the usual peak; every arm has its own.
PEAK_C = {"S1": 209.6, "S2": 208.9, "A1": 209.3, "A2": 208.6, "A3": 209.1}
PEAK_LOW, PEAK_HIGH = 200.0, 220.0
DEMOULD_LIMIT = 60.0


def bake(w: Writer, c: Cook, made: dict[str, list[Made]], person: str) -> Generator[float, None, None]:
    """Into the oven, out of it, and cooled. made: by mould."""
    moulds, cold = c.moulds, w.year.after_rest(w.now) and f"{c.arm} {w.day}" not in w.checked
    w.checked[f"{c.arm} {w.day}"] = w.day
    hall = w.year.hall_c(w.now)
    loggers = tuple(dict.fromkeys(str(MOULDS[mould]["logger"]) for mould in moulds))
    settings = {**OVENS_SET[c.oven], "set_c": str(288 + w.rng.choice((0, 0, 1, 2, 2, 3)) + (2 if hall < 12 else 0))}
    w.script.scan(StartCook(oven=c.oven, arm=c.arm, moulds=moulds, loggers=loggers, **settings), person, "oven")
    stages = PRODUCTS[c.product]["cook"]["stages"]
    for stage in stages:
        yield _until(w, stage, hall, cold)
        inside = f"{w.rng.gauss(float(STAGES[stage][1]), 2.6):.0f}" if STAGES[stage][1] else ""
        for mould in moulds:
            w.script.scan(CookStage(mould=mould, stage=stage, temperature=inside), person, "oven")
        if w.odd.get(c.number) == "stopped" and stage == "heat":
            yield from _stopped(w, moulds, made, person)
    middle = _peak(w, c, hall, cold)
    for mould in moulds:
        peak = f"{w.rng.gauss(middle, 0.5) if len(moulds) > 1 else middle:.1f}"
        _out(w, c, mould, made[mould], peak, cold, tuple(stages), person)
        for one in made[mould]:
            one.hall_c = round(hall, 1)
    yield max(14.0, w.rng.gauss(24 + 0.45 * (hall - 18), 2.4))
    for mould in moulds:
        yield from _cooled(w, mould, hall, person)


def _until(w: Writer, stage: str, hall: float, cold: bool) -> float:
    """Minutes until this stage is reached: longer in a cold hall, and longer still from cold."""
    usual = STAGES[stage][0]
    slow = (4.2 if cold else 0) + max(0.0, 18 - hall) * 0.11 if stage == "heat" else 0.0
    return max(2.0, w.rng.gauss(usual + slow, 0.06 * usual))


def _peak(w: Writer, c: Cook, hall: float, cold: bool) -> float:
    mean = PEAK_C[c.arm] + 0.10 * (hall - 18) - (3.1 if cold else 0)
    if w.odd.get(c.number) == "cooked again":
        return w.rng.uniform(195.5, 198.5)
    if c.arm == "A3" and w.day in DRIFT:
        w.cooked_on_drift += 1
        drifted = PEAK_C["A3"] + DRIFT_C * w.cooked_on_drift + w.rng.gauss(0, 0.9)
        return max(PEAK_LOW + 1.1 + w.rng.random(), drifted)
    while True:
        peak = w.rng.gauss(mean, 1.9)
        if PEAK_LOW + 0.5 < peak < PEAK_HIGH - 0.5:
            return peak


def _out(
    w: Writer, c: Cook, mould: str, made: list[Made], peak: str, cold: bool, stages: tuple[str, ...], person: str
) -> None:
    log, hold = "attached", ""
    if w.odd.get(c.number) == "log missing":
        log, hold = "missing", hold_on(w, made, "log missing")
    elif not PEAK_LOW <= float(peak) <= PEAK_HIGH:
        hold = hold_on(w, made, "peak outside")
    read = "" if log == "missing" else peak
    w.script.scan(EndCook(mould=mould, piat=read, log=log, stages=stages), person, "oven", holds=hold)
    for one in made:
        one.peak_c, one.cooked_by, one.cold_start = peak, person, cold
        if log == "missing":
            one.oddities.append("logger file missing")


def hold_on(w: Writer, made: list[Made], why: str) -> str:
    """A name for holds that are laid on these mouldings now; they wait until it is lifted."""
    name = w.name(f"hold {why}")
    for one in made:
        w.held.setdefault(id(one), set()).add(name)
    return name


def _stopped(
    w: Writer, moulds: tuple[str, ...], made: dict[str, list[Made]], person: str
) -> Generator[float, None, None]:
    """The power is away for some minutes."""
    stood = minutes(w.rng, 11)
    yield stood
    for mould in moulds:
        name = hold_on(w, made[mould], "stopped")
        command = CookStage(mould=mould, stage="stopped", minutes=f"{stood:.0f}")
        w.script.scan(command, person, "oven", holds=name)
        for one in made[mould]:
            one.oddities.append("the cook was stopped")


def _cooled(w: Writer, mould: str, hall: float, person: str) -> Generator[float, None, None]:
    """Where it is still too hot it cools on and is read again."""
    inside = w.rng.gauss(48 + 0.5 * (hall - 18), 4.1)
    while round(inside) > DEMOULD_LIMIT:
        if w.script.on_paper:
            # Nobody writes down what has to wait.
            yield 6.0
            inside -= 4
            continue
        w.script.scan(EndCooling(mould=mould, demould_c=f"{inside:.0f}"), person, "oven", refused="DEMOULD-HOT")
        yield 6.0
        inside -= w.rng.uniform(3, 6)
    w.script.scan(EndCooling(mould=mould, demould_c=f"{inside:.0f}"), person, "oven")
