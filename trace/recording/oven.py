"""The oven: start, stages, end and abort of a cook, and what holds when the record is thin."""

import itertools
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from trace.codes.formulas import FormulaError, speed_ratio
from trace.readmodels.rows import Rows
from trace.recording import words as say
from trace.recording.commands import Command, Facts, handles, scanned, scanned_list
from trace.recording.floor import Floor, Found, UnitFacts
from trace.recording.moulds import CLOCKS_APART, arm_facts, mould_facts, mould_row, moves_on
from trace.recording.readings import reading
from trace.recording.sources import local_day
from trace.recording.then import in_cycle_on

# What may go into the oven once more: it waits for its plate, or is inspected again afterwards.
COOKED_AGAIN = ("to bind", "trial", "bound", "released", "failed inspection")
IN_AGAIN, COOLING_AGAIN = "in oven again", "cooling again"

# Windows that a recipe may give for what is set, and how they are said.
SETTINGS = {
    "set_c": "oven temperature", "arm_rpm": "arm speed", "plate_rpm": "plate speed",
    "ratio": "ratio arm / (plate − arm)",
}  # fmt: skip
DIFFERS = {**SETTINGS, "piat_c": "peak window"}


def _number_trouble(values: dict[str, str]) -> str:
    for name, text in values.items():
        if text and reading(text) is None:
            return f"“{text[:20]}” is not a number for {name}: write digits and a point, as in 204.5."
    return ""


def _window(given: Any) -> tuple[Decimal, Decimal] | None:
    """The [low, high] of a recipe; None where it gives none that can be read."""
    low, high = (reading(str(x)) for x in [*(given or ()), "", ""][:2])
    return None if low is None or high is None else (low, high)


@dataclass(frozen=True, kw_only=True)
class StartCook(Command):
    """Every mould on one arm goes into the oven together (a spider is several); units: mouldings cooked again.

    arm_rpm, plate_rpm: both shafts' speeds as set, "" for rock and roll. Each mould may carry its own logger.
    """

    KIND = "cook_started"
    TASK = "oven"

    oven: str = scanned("oven")
    arm: str = scanned("arm")
    moulds: tuple[str, ...] = scanned_list("mould")
    units: tuple[str, ...] = scanned_list("moulding", "part", "hull")
    loggers: tuple[str, ...] = scanned_list("logger")
    arm_rpm: str = ""
    plate_rpm: str = ""
    set_c: str = ""


def start_facts(c: StartCook, floor: Floor) -> Facts:
    oven, arm, moulds = floor[c.oven], floor[c.arm], floor.list(c.moulds)
    stages = {m.key: (m.mould or {}).get("stage", "empty") for m in moulds}
    inside = [m.load for m in moulds if m.load] + [u.unit for u in floor.list(c.units) if u.unit]
    recipes = [floor.plant.product_of(unit.about) for unit in inside]
    differ = _differing([r.get("cook", {}) for r in recipes])
    # Of two scans at one moment the one whose clock was read first may be the one that waited.
    others = in_cycle_on(arm.key, floor.happened + CLOCKS_APART, [m.key for m in moulds], [unit.uid for unit in inside])
    due = oven.body.get("calibration_due")
    ratio, trouble = (
        "",
        _number_trouble({"arm speed": c.arm_rpm, "plate speed": c.plate_rpm, "oven temperature": c.set_c}),
    )
    arm_rpm, plate_rpm = reading(c.arm_rpm), reading(c.plate_rpm)
    equal = arm_rpm is not None and arm_rpm == plate_rpm
    if arm_rpm is not None and plate_rpm is not None and not trouble and not equal:
        try:
            ratio = f"{round(speed_ratio(arm_rpm, plate_rpm), 4).normalize():f}"
        except FormulaError as error:
            trouble = str(error)
    settings = {"set_c": c.set_c, "arm_rpm": c.arm_rpm, "plate_rpm": c.plate_rpm, "ratio": ratio}
    off = _off_recipe(settings, [r.get("cook", {}) for r in recipes])
    again = [u for u in floor.list(c.units) if u.unit is None or u.unit.status not in COOKED_AGAIN]
    return {
        "typed": {"trouble": trouble},
        "logger": logger_facts(c, floor),
        "arm": arm_facts(arm) | {
            "oven": arm.body.get("oven", "none"),
            "other_oven": arm.body.get("oven", oven.key) != oven.key,
        },
        "oven": {
            "key": oven.key,
            "locked": oven.body.get("state") == "locked out",
            "overdue": not due or str(due) < local_day(floor.happened).isoformat(),
            "due": due or "never",
        },
        "mould": {
            "key": ", ".join(stages),
            "later": any(mould_facts(m, floor)["later"] for m in moulds),
            "stage": ", ".join(stages.values()),
        },
        "cook": {
            "nothing": not moulds and not c.units,
            "not_closed": any(stage != "closed" for stage in stages.values()),
            "which": ", ".join(f"{k} is {s}" for k, s in [*stages.items(), *others] if s != "closed"),
            "second_open": bool(others) or any(stage in ("in oven", "cooling") for stage in stages.values()),
            "wrong_arm": any((m.mould or {}).get("arm") not in (None, arm.key) for m in moulds),
            "arm": arm.key,
            "wrong_oven": any(oven.key not in r.get("cook", {}).get("ovens", []) for r in recipes),
            "mixed": bool(differ),
            "differ": ", ".join(differ),
            "ovens": " or ".join(sorted({o for r in recipes for o in r.get("cook", {}).get("ovens", [])})) or "no oven",
            "products": ", ".join(sorted({str(r.get("name", "unknown")) for r in recipes})),
            # A hull on hold may be cooked again to mend it; a load on hold need not become a moulding.
            "held": any(m.load and m.load.holds for m in moulds),
            "held_which": ", ".join(m.key for m in moulds if m.load and m.load.holds),
            "unfit": bool(again),
            "unfit_which": ", ".join(f"{u.code} is {u.unit.status if u.unit else 'unknown'}" for u in again),
            "off": bool(off),
            "off_which": "; ".join(off),
            "speeds_equal": equal,
            "speed": c.arm_rpm or "unknown",
        },
    }


def _differing(cooks: list[dict[str, Any]]) -> list[str]:
    """In what the cooks of one arm differ. The ovens are asked of each, and each is compared with its own limit."""
    names = sorted({name for cook in cooks for name in cook} - {"ovens", "demould_max_c"})
    return [DIFFERS.get(n, n) for n in names if any(cook.get(n) != cooks[0].get(n) for cook in cooks)]


def _off_recipe(settings: dict[str, str], cooks: list[dict[str, Any]]) -> list[str]:
    """What is set otherwise than a recipe's window, or not said though the recipe has one."""
    found = []
    for name, words in SETTINGS.items():
        value = reading(settings[name])
        for window in (_window(cook.get(name)) for cook in cooks):
            if window and (value is None or not window[0] <= value <= window[1]):
                found.append(f"{words} {settings[name] or 'not said'}, the recipe gives {window[0]} to {window[1]}")
    return list(dict.fromkeys(found))


def loggers_of(moulds: list[Found]) -> dict[str, list[str]]:
    """The loggers tied to these moulds, each with the keys of its moulds: a spider's moulds share one."""
    own: dict[str, list[str]] = {}
    for mould in moulds:
        if mould.body.get("logger"):
            own.setdefault(str(mould.body["logger"]), []).append(mould.key)
    return own


def logger_facts(c: StartCook, floor: Floor) -> Facts:
    scanned_here, own = floor.list(c.loggers), loggers_of(floor.list(c.moulds))
    here, today = [x.key for x in scanned_here], local_day(floor.happened).isoformat()
    # A moulding cooked again is tied to no logger: any of them may be its own.
    strange = [key for key in here if key not in own and not c.units]
    missing = {key: moulds for key, moulds in own.items() if key not in here}
    due = {x.key: str(x.body.get("calibration_due") or "") for x in scanned_here}
    overdue = [f"{key} was due on {day}" if day else f"{key} never was" for key, day in due.items() if day < today]
    return {
        "strange": bool(strange),
        "strange_which": ", ".join(strange),
        "wanted": ", ".join(own) or "none",
        "missing": bool(missing),
        "missing_which": "; ".join(f"{key} of {', '.join(moulds)}" for key, moulds in missing.items()),
        "overdue": bool(overdue),
        "overdue_which": "; ".join(overdue),
    }


@handles(StartCook, start_facts)
def start_cook(c: StartCook, floor: Floor, rows: Rows) -> str:
    oven, arm = floor[c.oven], floor[c.arm]
    number = f"{oven.key.removeprefix('OVEN-')}-{next_cycle_number()}"
    cycle = rows.cycle(number)
    rows.resource("machine", oven.key, "oven")
    rows.resource("machine", arm.key, "arm")
    for logger in floor.list(c.loggers):
        rows.resource("instrument", logger.key, "logger")
    position = 0
    for mould in floor.list(c.moulds):
        position += 1
        rows.resource("mould", mould.key, "mould")
        if mould.load:
            rows.cook(cycle, mould.load.uid, f"{arm.key}/{position}")
            if moves_on(mould, "in oven"):
                rows.status(mould.load.uid, "in oven")
                rows.mould(mould.key, **mould_row(mould, stage="in oven", cycle=cycle, arm=arm.key))
            elif not (mould.mould or {}).get("cycle"):
                # Told after its end was: the moulding gets its number from this cycle all the same.
                rows.mould(mould.key, **mould_row(mould, cycle=cycle))
    for found in floor.list(c.units):
        position += 1
        if found.unit:
            rows.cook(cycle, found.unit.uid, f"{arm.key}/{position}")
            if found.unit.status in COOKED_AGAIN:
                rows.status(found.unit.uid, IN_AGAIN)
    for name, text, uom in (
        ("arm speed", c.arm_rpm, "rpm"),
        ("plate speed", c.plate_rpm, "rpm"),
        ("oven set", c.set_c, "C"),
    ):
        if text:
            rows.reading(name, text, uom, instrument=oven.key)
    return f"cycle {number} started, {position} on {arm.key}"


def next_cycle_number() -> int:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval('cycle_number')")
        number: int = cursor.fetchone()[0]
        return number


def cooking(found: Found, floor: Floor) -> tuple[list[UnitFacts], dict[str, Any]]:
    """What cooks under this code (a mould's load, or a moulding cooked again), and the cook part of its recipe."""
    unit = found.load if "mould" in found.kinds else found.unit
    recipe = floor.plant.product_of(unit.about if unit else {}).get("cook", {})
    return ([unit] if unit else []), recipe


def in_oven(found: Found) -> bool:
    if "mould" in found.kinds:
        return (found.mould or {}).get("stage") == "in oven"
    return bool(found.unit and found.unit.status == IN_AGAIN)


def what_cooks(found: Found, floor: Floor) -> Facts:
    """The mould's facts; a moulding cooked again stands for itself."""
    facts = mould_facts(found, floor)
    return facts | {"key": found.name, "stage": found.unit.status or "unknown"} if found.unit else facts


@dataclass(frozen=True, kw_only=True)
class CookStage(Command):
    """A stage that was reached: heat, a drop, mist, air. temperature: internal air in °C if read.

    minutes: how long it was "stopped"; when it happened is its start. A stop without its length is a gap, until it
    is said with a second record.
    """

    KIND = "cook_stage"
    TASK = "oven"

    mould: str = scanned("mould", "moulding", "part", "hull")
    stage: str
    temperature: str = ""
    planned: str = ""
    observed: bool = True
    minutes: str = ""


def stage_facts(c: CookStage, floor: Floor) -> Facts:
    found = floor[c.mould]
    units, recipe = cooking(found, floor)
    stopped = c.stage == "stopped"
    trouble = _number_trouble({"temperature": c.temperature, "the stop's minutes": c.minutes})
    if c.minutes and not trouble and (reading(c.minutes) or 0) <= 0:
        trouble = "A stop is longer than nothing: write its minutes, as in 12."
    return {
        "typed": {"trouble": trouble},
        "mould": what_cooks(found, floor),
        "stage": {
            "name": c.stage,
            "which_drop": not c.stage and not c.observed,
            "known": stopped or c.stage in [*recipe.get("stages", []), *recipe.get("cooling", [])],
            # The length said afterwards is no second stop.
            "stopped": stopped and not (c.minutes and _stops_without_length(units)),
            "length": f"{c.minutes} minutes" if c.minutes else "its length is not said",
            "no_drop": not c.observed and (not c.stage or c.stage.startswith("drop")),
            # A stage of the cooling is seen once the mould is out of the oven, and a cooler stops too.
            "in_oven": in_oven(found) or (_cools(found) and (stopped or c.stage in recipe.get("cooling", []))),
        },
    }


def _cools(found: Found) -> bool:
    if found.unit is not None:
        return found.unit.status == COOLING_AGAIN
    return (found.mould or {}).get("stage") == "cooling"


def _stops_without_length(units: list[UnitFacts]) -> list[str]:
    """When the stops of this cook began of which nobody has said how long they were."""
    return sorted(which for unit in units for what, which in unit.gaps if what == "stop length")


@handles(CookStage, stage_facts)
def cook_stage(c: CookStage, floor: Floor, rows: Rows) -> str:
    found = floor[c.mould]
    if found.thing:
        rows.resource("mould", found.key, "mould")
    for unit in cooking(found, floor)[0]:
        rows.touch(unit.uid, "cooked")
        if c.temperature:
            rows.reading(c.stage, c.temperature, "C", unit=unit.uid)
        if c.stage == "stopped":
            _stop(c, floor, rows, unit)
    said = (f" at {c.temperature} °C" if c.temperature else "") + (f", {c.minutes} minutes" if c.minutes else "")
    return f"{found.key or found.code}: {c.stage}{said}"


def _stop(c: CookStage, floor: Floor, rows: Rows, unit: UnitFacts) -> None:
    """How long it stood; a missing length is shown as missing."""
    if not c.minutes:
        rows.gap(unit.uid, "stop length", say.clock(floor.happened))
        return
    rows.reading("stopped", c.minutes, "min", unit=unit.uid)
    for began in _stops_without_length([unit])[:1]:
        rows.gap_closed(unit.uid, "stop length", began)


@dataclass(frozen=True, kw_only=True)
class EndCook(Command):
    """The cook is over and cooling begins. piat: peak internal air temperature in °C, "" when not read.

    log: "attached" or "missing"; a missing log is never a pass. stages: the stages seen, in order.
    """

    KIND = "cook_ended"
    TASK = "oven"

    mould: str = scanned("mould", "moulding", "part", "hull")
    piat: str = ""
    log: str = "missing"
    stages: tuple[str, ...] = ()


def end_facts(c: EndCook, floor: Floor) -> Facts:
    found = floor[c.mould]
    _, recipe = cooking(found, floor)
    window = _window(recipe.get("piat_c"))
    value = reading(c.piat) if c.piat else None
    skipped = [s for s in recipe.get("stages", []) if c.stages and s not in c.stages]
    disorder = _disorder(c.stages, recipe.get("stages", []))
    return {
        "typed": {"trouble": _number_trouble({"peak temperature": c.piat})},
        "mould": what_cooks(found, floor),
        "cook": {
            "in_oven": in_oven(found),
            "no_log": c.log != "attached",
            "no_piat": not c.piat,
            "piat": c.piat or "not read",
            "no_window": window is None,
            "outside": bool(value is not None and window and not window[0] <= value <= window[1]),
            "low": str(window[0]) if window else "?",
            "high": str(window[1]) if window else "?",
            "skipped": bool(skipped),
            "skipped_which": ", ".join(skipped),
        },
        "stage": {"disordered": bool(disorder), "disorder": disorder},
    }


def _disorder(seen: tuple[str, ...], planned: list[str]) -> str:
    """The first two stages seen in another order than the recipe's, as a sentence, or ""."""
    order = [planned.index(name) for name in dict.fromkeys(seen) if name in planned]
    for one, other in itertools.pairwise(order):
        if one > other:
            return f"{planned[one]} was recorded before {planned[other]}"
    return ""


@handles(EndCook, end_facts)
def end_cook(c: EndCook, floor: Floor, rows: Rows) -> str:
    found = floor[c.mould]
    for unit in cooking(found, floor)[0]:
        rows.touch(unit.uid, "cooked")
        if unit.status == IN_AGAIN:
            rows.status(unit.uid, COOLING_AGAIN)
        elif moves_on(found, "cooling"):
            rows.status(unit.uid, "cooling")
            rows.mould(found.key, **mould_row(found, stage="cooling"))
        if c.piat:
            rows.reading("peak internal air", c.piat, "C", unit=unit.uid)
        if c.log != "attached":
            rows.gap(unit.uid, "oven log", (found.mould or {}).get("cycle_number") or "")
    if found.thing:
        rows.resource("mould", found.key, "mould")
    return f"{found.key or found.code} out of the oven, cooling"


@dataclass(frozen=True, kw_only=True)
class EndCooling(Command):
    """Rotation has stopped and the mould waits to be opened; a moulding cooked again is as it was before its cook, to
    be bound or inspected. demould_c: internal temperature, "" if not read.

    stages: the stages of cook and cooling seen, in order.
    """

    KIND = "cooled"
    TASK = "oven"

    mould: str = scanned("mould", "moulding", "part", "hull")
    demould_c: str = ""
    stages: tuple[str, ...] = ()


def cooled_facts(c: EndCooling, floor: Floor) -> Facts:
    found = floor[c.mould]
    _, recipe = cooking(found, floor)
    limit = reading(str(recipe.get("demould_max_c", "")))
    skipped = [stage for stage in recipe.get("cooling", []) if stage not in c.stages]
    disorder = _disorder(c.stages, recipe.get("cooling", []))
    value = reading(c.demould_c) if c.demould_c else None
    return {
        "typed": {"trouble": _number_trouble({"temperature": c.demould_c})},
        "mould": what_cooks(found, floor),
        "cooling": {
            "begun": _cools(found),
            "skipped": bool(skipped),
            "skipped_which": ", ".join(skipped),
            "no_limit": limit is None,
            "too_hot": value is not None and limit is not None and value > limit,
            "not_read": limit is not None and not c.demould_c,
            "seen": c.demould_c or "not read",
            "limit": str(limit) if limit is not None else "none",
        },
        "stage": {"disordered": bool(disorder), "disorder": disorder},
    }


@handles(EndCooling, cooled_facts)
def end_cooling(c: EndCooling, floor: Floor, rows: Rows) -> str:
    found = floor[c.mould]
    if found.thing:
        rows.resource("mould", found.key, "mould")
    for unit in cooking(found, floor)[0]:
        rows.touch(unit.uid, "cooked")
        if unit.status in (IN_AGAIN, COOLING_AGAIN):
            rows.status(unit.uid, _ready_again(unit))
        elif moves_on(found, "to demould"):
            rows.status(unit.uid, "to demould")
            rows.mould(found.key, **mould_row(found, stage="to demould"))
        if c.demould_c:
            rows.reading("at demould", c.demould_c, "C", unit=unit.uid)
    seen = f"{c.demould_c} °C inside" if c.demould_c else "not read"
    return f"{found.key or found.code} out of cooling, {seen}"


def _ready_again(unit: UnitFacts) -> str:
    """What a moulding waits for after another cook: a hull for its inspection, others for plate or purpose."""
    purpose = str(unit.about.get("purpose", "production"))
    return "bound" if unit.kind == "hull" else "to bind" if purpose == "production" else purpose


@dataclass(frozen=True, kw_only=True)
class AbortCook(Command):
    """The cook was given up: what is in the mould becomes a scrap moulding with its kilograms booked."""

    KIND = "cook_aborted"

    mould: str = scanned("mould")


def abort_facts(c: AbortCook, floor: Floor) -> Facts:
    return {"mould": mould_facts(floor[c.mould], floor)}


@handles(AbortCook, abort_facts)
def abort_cook(c: AbortCook, floor: Floor, rows: Rows) -> str:
    found = floor[c.mould]
    load = found.load
    assert load is not None  # noqa: S101 - NO-LOAD is basic
    kilograms = sum(e["amount"] or 0 for e in load.inside if e["role"] == "charge") or None
    scrap = rows.unit("moulding", amount=kilograms, uom="mg", about={**load.about, "load": load.uid, "aborted": True})
    rows.edge(scrap, load.uid, "cavity", position="1")
    rows.status(scrap, "scrapped")
    rows.status(load.uid, "aborted")
    rows.mould(found.key, **mould_row(found, stage="empty", load=None, cycle=None, order=None, **shots_after(found)))
    rows.resource("mould", found.key, "mould")
    return f"{found.key} aborted; the moulding is scrap"


def shots_after(found: Found) -> dict[str, int]:
    """The shot counts after one more moulding."""
    state = found.mould or {}
    return {name: int(state.get(name, 0)) + 1 for name in ("shots", "since_service", "since_vent", "since_release")}
