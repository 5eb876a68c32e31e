"""A cook that has begun: its stages, its end, its cooling or its abort, and what holds when the record is thin."""

import itertools
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.rows import Rows
from trace.recording.acts.loading import went_on
from trace.recording.commands import Command, Facts, Told, handles, scanned
from trace.recording.floor import words as say
from trace.recording.floor.moulds import (
    CLOCKS_APART,
    GIVEN_UP,
    allowed_apart,
    mould_facts,
    mould_row,
    moves_on,
    nothing_in,
    shots_after,
)
from trace.recording.floor.readings import number_trouble, reading, temperature_trouble, window
from trace.recording.floor.standing import Floor, Found, UnitFacts
from trace.recording.told_late.at_that_time import stages_told
from trace.recording.told_late.on_the_arm import cook_of, cooked_then, ran_on

# A moulding, part or hull that is cooked once more.
IN_AGAIN, COOLING_AGAIN = "in oven again", "cooling again"


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
    NAME = noop("cook stage")
    TASK = "oven"
    OF_LOAD = True

    mould: str = scanned("mould", "moulding", "part", "hull")
    stage: str
    temperature: str = ""
    planned: str = ""
    observed: bool = True
    minutes: str = ""

    @staticmethod
    def told(e: Told) -> str:
        at = _(" at %(c)s °C") % {"c": e.says["temperature"]} if e.says.get("temperature") else ""
        seen = "" if e.says.get("observed", True) else _(", not seen")
        length = _(", %(n)s minutes") % {"n": e.says["minutes"]} if e.says.get("minutes") else ""
        return _("Stage %(stage)s%(at)s%(seen)s%(length)s") % {
            "stage": e.says["stage"], "at": at, "seen": seen, "length": length,
        }  # fmt: skip


def stage_facts(c: CookStage, floor: Floor) -> Facts:
    found = floor[c.mould]
    units, recipe = cooking(found, floor)
    stopped = c.stage == "stopped"
    trouble = temperature_trouble({"the air inside": c.temperature})
    trouble = trouble or number_trouble({"the stop's minutes": c.minutes})
    if c.minutes and not trouble and (reading(c.minutes) or 0) <= 0:
        trouble = "A stop is longer than nothing: write its minutes, as in 12."
    cools = c.stage in recipe.get("cooling", [])
    planned = list(recipe.get("cooling" if cools else "stages", []))
    told = stages_told(units[0].id, floor.happened) if units and c.observed and c.stage in planned else []
    disorder = _out_of_turn(c.stage, told, planned)
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
            "twice": told.count((c.stage, True)) >= max(planned.count(c.stage), 1),
            "disordered": bool(disorder),
            "disorder": disorder,
            "no_drop": not c.observed and (not c.stage or c.stage.startswith("drop")),
            # A stage of the cooling is seen once the mould is out of the oven, and a cooler stops too.
            "in_oven": _fits_the_time(found, floor, units, cooling=stopped or cools),
        },
    }


def _fits_the_time(found: Found, floor: Floor, units: list[UnitFacts], *, cooling: bool) -> bool:
    """Whether the cook had come so far when the stage was seen. One that is told late is judged by its own time, which
    may be off by what clocks are apart."""
    late = floor.by.mode == "tells" and floor.now - floor.happened > CLOCKS_APART
    if not late or not units:
        return in_oven(found) or (_cools(found) and cooling)
    apart = allowed_apart(floor)
    then = {cooked_then(units[0].id, floor.happened + off) for off in (-apart, timedelta(0), apart)}
    return "oven" in then or (cooling and "cooling" in then)


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
    NAME = noop("end cook")
    TASK = "oven"
    OF_LOAD = True

    mould: str = scanned("mould", "moulding", "part", "hull")
    piat: str = ""
    log: str = "missing"
    stages: tuple[str, ...] = ()

    @staticmethod
    def told(e: Told) -> str:
        peak = _("peak %(c)s °C") % {"c": e.says["piat"]} if e.says.get("piat") else _("peak not read")
        log = _("log attached") if e.says.get("log") == "attached" else _("log missing")
        return _("Out of the oven: %(peak)s, %(log)s") % {"peak": peak, "log": log}


def end_facts(c: EndCook, floor: Floor) -> Facts:
    found = floor[c.mould]
    units, recipe = cooking(found, floor)
    limits = window(recipe.get("piat_c"))
    value = reading(c.piat) if c.piat else None
    skipped = [stage for stage in recipe.get("stages", []) if stage not in c.stages]
    disorder = _disorder(c.stages, recipe.get("stages", []))
    return {
        "typed": {"trouble": temperature_trouble({"the peak": c.piat})},
        "mould": what_cooks(found, floor),
        "cook": {
            "in_oven": in_oven(found),
            "no_log": c.log != "attached",
            "no_piat": not c.piat,
            "piat": c.piat or "not read",
            "no_window": bool(units) and limits is None,
            "outside": bool(value is not None and limits and not limits[0] <= value <= limits[1]),
            "low": str(limits[0]) if limits else "?",
            "high": str(limits[1]) if limits else "?",
            "skipped": bool(skipped),
            "skipped_which": ", ".join(skipped),
            **_overlaps(floor, units),
        },
        "stage": {"disordered": bool(disorder), "disorder": disorder},
    }


def _overlaps(floor: Floor, units: list[UnitFacts]) -> Facts:
    """Which other cycles the arm was in while this cook ran; asked of what is told late, since otherwise its start has
    looked."""
    cook = cook_of(units[0].id, floor.happened) if units and floor.by.mode == "tells" else None
    others = ran_on(cook[0], cook[1], floor.happened, [units[0].uid]) if cook else []
    return {"arm": cook[0] if cook else "", "overlaps": bool(others), "others": " and ".join(others)}


def _disorder(seen: tuple[str, ...], planned: list[str]) -> str:
    """The first two stages seen in another order than the recipe's, as a sentence, or ""."""
    order = [planned.index(name) for name in dict.fromkeys(seen) if name in planned]
    for one, other in itertools.pairwise(order):
        if one > other:
            return f"{planned[one]} was recorded before {planned[other]}"
    return ""


def _out_of_turn(stage: str, told: list[tuple[str, bool]], planned: list[str]) -> str:
    """Before or after which stages a stage that is seen now comes against the recipe, as a sentence, or ""."""
    if stage not in planned or (stage, True) in told:
        return ""
    here = planned.index(stage)
    later = [name for name in planned[here + 1 :] if (name, True) in told]
    if later:
        return f"{later[0]} was recorded before {stage}"
    # What is missing before the stage that was recorded last was said when that one was.
    last = max((n for n, name in enumerate(planned[:here]) if name in dict(told)), default=-1)
    skipped = planned[last + 1 : here]
    return f"{stage} is recorded before {' and '.join(skipped)}" if skipped else ""


@handles(EndCook, end_facts)
def end_cook(c: EndCook, floor: Floor, rows: Rows) -> str:
    found = floor[c.mould]
    for unit in cooking(found, floor)[0]:
        rows.touch(unit.uid, "cooked")
        if unit.status == IN_AGAIN:
            rows.status(unit.uid, COOLING_AGAIN)
        elif moves_on(found, "cooling"):
            went_on(rows, unit, floor)
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
    NAME = noop("end cooling")
    TASK = "oven"
    OF_LOAD = True

    mould: str = scanned("mould", "moulding", "part", "hull")
    demould_c: str = ""
    stages: tuple[str, ...] = ()

    @staticmethod
    def told(e: Told) -> str:
        seen = _("%(c)s °C inside") % {"c": e.says["demould_c"]} if e.says.get("demould_c") else _("not read")
        return _("Cooled: %(seen)s") % {"seen": seen}


def cooled_facts(c: EndCooling, floor: Floor) -> Facts:
    found = floor[c.mould]
    units, recipe = cooking(found, floor)
    limit = reading(str(recipe.get("demould_max_c", "")))
    skipped = [stage for stage in recipe.get("cooling", []) if stage not in c.stages]
    disorder = _disorder(c.stages, recipe.get("cooling", []))
    value = reading(c.demould_c) if c.demould_c else None
    return {
        "typed": {"trouble": temperature_trouble({"the air inside": c.demould_c})},
        "mould": what_cooks(found, floor),
        "cooling": {
            "begun": _cools(found),
            "skipped": bool(skipped),
            "skipped_which": ", ".join(skipped),
            "no_limit": bool(units) and limit is None,
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
            went_on(rows, unit, floor)
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
    """A load or its cook was given up: what is in the mould becomes a scrap moulding of its kilograms.

    Where nothing was put in yet there is nothing to scrap: the mould is empty again.
    """

    KIND = "cook_aborted"
    NAME = noop("give up cook")

    mould: str = scanned("mould")

    @staticmethod
    def told(e: Told) -> str:
        words = _("%(code)s given up: what was in it is scrap")
        if not e.part("units"):
            words = _("Load of %(code)s given up: nothing was in it")
        return words % {"code": printed(str(e.says.get("mould", "")))}


def abort_facts(c: AbortCook, floor: Floor) -> Facts:
    return {"mould": mould_facts(floor[c.mould], floor)}


@handles(AbortCook, abort_facts)
def abort_cook(c: AbortCook, floor: Floor, rows: Rows) -> str:
    found = floor[c.mould]
    load = found.load
    assert load is not None  # noqa: S101 - NO-LOAD is basic
    rows.resource("mould", found.key, "mould")
    if nothing_in(found):
        rows.status(load.uid, GIVEN_UP)
        rows.mould(found.key, **mould_row(found, stage="empty", load=None, cycle=None, order=None))
        return f"{found.key}: nothing was in it; its load is given up and nothing is scrap"
    # What it weighs is what its charges say, also those that are told of later.
    scrap = rows.unit("moulding", about={**load.about, "load": load.uid, "aborted": True})
    rows.edge(scrap, load.uid, "cavity", position="1")
    rows.status(scrap, "scrapped")
    rows.status(load.uid, "aborted")
    rows.mould(found.key, **mould_row(found, stage="empty", load=None, cycle=None, order=None, **shots_after(found)))
    return f"{found.key} given up; what was in it is scrap"
