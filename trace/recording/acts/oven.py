"""The oven: an arm goes in, with its moulds, its loggers and what was set."""

import itertools
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes.formulas import FormulaError, speed_ratio
from trace.readmodels.rows import Rows
from trace.recording.acts.cook import IN_AGAIN
from trace.recording.acts.loading import went_on
from trace.recording.commands import Command, Facts, Told, handles, scanned, scanned_list
from trace.recording.floor.changes import BEFORE
from trace.recording.floor.moulds import CLOCKS_APART, arm_facts, mould_facts, mould_row, moves_on
from trace.recording.floor.pre_use import checked
from trace.recording.floor.readings import number_trouble, reading, temperature_trouble, window
from trace.recording.floor.standing import Floor, Found
from trace.recording.told_late.at_that_time import in_cycle_on
from trace.recording.told_late.on_the_arm import ran_on

# What may go into the oven once more: it waits for its plate, or is inspected again afterwards.
COOKED_AGAIN = ("to bind", "trial", "bound", "released", "failed inspection")

# Windows that a recipe may give for what is set, and how they are said.
SETTINGS = {
    "set_c": "oven temperature", "arm_rpm": "arm speed", "plate_rpm": "plate speed",
    "ratio": "ratio arm / (plate − arm)",
}  # fmt: skip
DIFFERS = {**SETTINGS, "piat_c": "peak window"}


@dataclass(frozen=True, kw_only=True)
class StartCook(Command):
    """Every mould on one arm goes into the oven together (a spider is several); units: mouldings cooked again.

    arm_rpm, plate_rpm: both shafts' speeds as set, "" for rock and roll. Each mould may carry its own logger.
    """

    KIND = "cook_started"
    NAME = noop("start cook")
    TASK = "oven"
    OF_LOAD = True

    oven: str = scanned("oven")
    arm: str = scanned("arm")
    moulds: tuple[str, ...] = scanned_list("mould")
    units: tuple[str, ...] = scanned_list("moulding", "part", "hull")
    loggers: tuple[str, ...] = scanned_list("logger")
    arm_rpm: str = ""
    plate_rpm: str = ""
    set_c: str = ""

    @staticmethod
    def told(e: Told) -> str:
        number = ", ".join(row["number"] for row in e.part("cycles"))
        again = _(" (cooked again)") if e.says.get("units") else ""
        return _("Cycle %(number)s begun in %(oven)s, arm %(arm)s%(again)s") % {
            "number": number, "oven": e.says["oven"], "arm": e.says["arm"], "again": again,
        }  # fmt: skip


def _oven_facts(oven: Found, arm: Found, floor: Floor) -> Facts:
    """Whether the oven may be used, and when its calibration is due."""
    due = oven.body.get("calibration_due")
    looked = checked([oven, arm], floor)
    return {
        "fault": bool(looked.faults),
        "fault_which": ", ".join(looked.faults),
        "unchecked": bool(looked.unchecked),
        "unchecked_which": " and ".join(looked.unchecked),
        "key": oven.key,
        "locked": oven.body.get("state") == "locked out",
        "overdue": not due or str(due) < floor.day.isoformat(),
        "due": due or "never",
    }


def _stage_facts(stages: dict[str, str], others: list[tuple[str, str]]) -> Facts:
    """Which moulds are not closed, by their stages; others: what else the arm has in an open cycle, and where."""
    return {
        "not_closed": any(stage != "closed" for stage in stages.values()),
        "which": ", ".join(f"{k} is {s}" for k, s in [*stages.items(), *others] if s != "closed"),
        "not_closed_now": _before_the_oven(stages),
        "second_open": bool(others) or any(stage in ("in oven", "cooling") for stage in stages.values()),
    }


def _recipe_facts(recipes: list[Facts], oven: str, settings: dict[str, str]) -> Facts:
    """Whether the recipes on one arm go together, in this oven and with what is set."""
    cooks = [recipe.get("cook", {}) for recipe in recipes]
    differ, off = _differing(cooks), _off_recipe(settings, cooks)
    return {
        "wrong_oven": any(oven not in cook.get("ovens", []) for cook in cooks),
        "mixed": bool(differ),
        "differ": ", ".join(differ),
        "ovens": " or ".join(sorted({name for cook in cooks for name in cook.get("ovens", [])})) or "no oven",
        "products": ", ".join(sorted({str(recipe.get("name", "unknown")) for recipe in recipes})),
        "off": bool(off),
        "off_which": "; ".join(off),
    }


def _held_facts(moulds: list[Found]) -> Facts:
    """Which moulds hold a load on hold. A hull on hold may be cooked again to mend it; a load on hold need not become
    a moulding."""
    held = [m.key for m in moulds if m.load and m.load.holds]
    return {"held": bool(held), "held_which": ", ".join(held)}


def _again_facts(units: list[Found]) -> Facts:
    """Which of the mouldings to be cooked again are in no state for it."""
    unfit = [u for u in units if u.unit is None or u.unit.status not in COOKED_AGAIN]
    return {
        "unfit": bool(unfit),
        "unfit_which": ", ".join(f"{u.code} is {u.unit.status if u.unit else 'unknown'}" for u in unfit),
    }


def _overlapping(arm: Found, floor: Floor, units: list[str]) -> list[str]:
    """The cycles that the arm was in when this one, told afterwards, is said to have begun."""
    if floor.by.mode != "tells":
        return []
    return ran_on(arm.key, floor.happened, floor.happened + BEFORE, units)


def start_facts(c: StartCook, floor: Floor) -> Facts:
    oven, arm, moulds, again = floor[c.oven], floor[c.arm], floor.list(c.moulds), floor.list(c.units)
    stages = {m.key: (m.mould or {}).get("stage", "empty") for m in moulds}
    inside = [m.load for m in moulds if m.load] + [u.unit for u in again if u.unit]
    uids = [unit.uid for unit in inside]
    recipes = [floor.plant.product_of(unit.about) for unit in inside]
    # Of two scans at one moment the one whose clock was read first may be the one that waited.
    others = in_cycle_on(arm.key, floor.happened + CLOCKS_APART, [m.key for m in moulds], uids)
    ran = _overlapping(arm, floor, uids) if not others else []
    trouble, settings = _settings(c)
    return {
        "typed": {"trouble": trouble},
        "logger": logger_facts(c, floor),
        "arm": arm_facts(arm) | {
            "oven": arm.body.get("oven", "none"),
            "other_oven": arm.body.get("oven", oven.key) != oven.key,
        },
        "oven": _oven_facts(oven, arm, floor),
        "mould": {
            "key": ", ".join(stages),
            "later": any(mould_facts(m, floor)["later"] for m in moulds),
            "stage": ", ".join(stages.values()),
        },
        "cook": {
            "nothing": not moulds and not c.units,
            "overlaps": bool(ran),
            "others": " and ".join(ran),
            "wrong_arm": any((m.mould or {}).get("arm") not in (None, arm.key) for m in moulds),
            "arm": arm.key,
            "speeds_equal": _speeds_equal(c),
            "speed": c.arm_rpm or "unknown",
            **_stage_facts(stages, others),
            **_recipe_facts(recipes, oven.key, settings),
            **_held_facts(moulds),
            **_again_facts(again),
        },
    }


def _before_the_oven(stages: dict[str, str]) -> str:
    """What is to be done with the moulds that are not closed, by their stages."""
    empty = " and ".join(key for key, stage in stages.items() if stage == "empty")
    open_ = " and ".join(key for key, stage in stages.items() if stage == "open")
    said = [f"{empty}: nothing is in it, take it off the list" if empty else ""]
    said += [f"{open_}: close it at the loading station" if open_ else ""]
    return "; ".join(words for words in said if words) or "Take off the list what does not go in"


def _speeds_equal(c: StartCook) -> bool:
    return reading(c.arm_rpm) is not None and reading(c.arm_rpm) == reading(c.plate_rpm)


def _settings(c: StartCook) -> tuple[str, dict[str, str]]:
    """What was set and the speed ratio that it makes, each as text; and why one of them cannot be read."""
    ratio = ""
    trouble = number_trouble({"arm speed": c.arm_rpm, "plate speed": c.plate_rpm})
    trouble = trouble or temperature_trouble({"oven temperature": c.set_c})
    arm_rpm, plate_rpm = reading(c.arm_rpm), reading(c.plate_rpm)
    if arm_rpm is not None and plate_rpm is not None and not trouble and arm_rpm != plate_rpm:
        try:
            ratio = f"{round(speed_ratio(arm_rpm, plate_rpm), 4).normalize():f}"
        except FormulaError as error:
            trouble = str(error)
    return trouble, {"set_c": c.set_c, "arm_rpm": c.arm_rpm, "plate_rpm": c.plate_rpm, "ratio": ratio}


def _differing(cooks: list[dict[str, Any]]) -> list[str]:
    """In what the cooks of one arm differ. The ovens are asked of each, and each is compared with its own limit."""
    names = sorted({name for cook in cooks for name in cook} - {"ovens", "demould_max_c"})
    return [DIFFERS.get(n, n) for n in names if any(cook.get(n) != cooks[0].get(n) for cook in cooks)]


def _off_recipe(settings: dict[str, str], cooks: list[dict[str, Any]]) -> list[str]:
    """What is set otherwise than a recipe's window, or not said though the recipe has one."""
    found = []
    for name, words in SETTINGS.items():
        value = reading(settings[name])
        for limits in (window(cook.get(name)) for cook in cooks):
            if limits and (value is None or not limits[0] <= value <= limits[1]):
                found.append(f"{words} {settings[name] or 'not said'}, the recipe gives {limits[0]} to {limits[1]}")
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
    here, today = [x.key for x in scanned_here], floor.day.isoformat()
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


def _cook_load(rows: Rows, floor: Floor, cycle: str, arm: str, mould: Found) -> None:
    """What a cycle that begins makes of a mould on its arm and of the load in it."""
    load = mould.load
    assert load is not None  # noqa: S101 - asked for where there is one
    if moves_on(mould, "in oven"):
        went_on(rows, load, floor)
        rows.status(load.uid, "in oven")
        rows.mould(mould.key, **mould_row(mould, stage="in oven", cycle=cycle, arm=arm))
    elif not mould.late and not (mould.mould or {}).get("cycle"):
        # Told after its end was: the moulding gets its number from this cycle all the same.
        rows.mould(mould.key, **mould_row(mould, cycle=cycle))
    # What came out of the mould before its cook was told of has one now.
    for moulding in load.gone_into if mould.late else []:
        if moulding["role"] == "cavity":
            rows.gap_closed(moulding["uid"], "cycle", "")


def _what_is_set(c: StartCook, oven: Found, rows: Rows) -> None:
    """The readings of what was set for this cook, as far as it was said."""
    for name, text, uom in (
        ("arm speed", c.arm_rpm, "rpm"),
        ("plate speed", c.plate_rpm, "rpm"),
        ("oven set", c.set_c, "C"),
    ):
        if text:
            rows.reading(name, text, uom, instrument=oven.key)


@handles(StartCook, start_facts)
def start_cook(c: StartCook, floor: Floor, rows: Rows) -> str:
    oven, arm, moulds, again = floor[c.oven], floor[c.arm], floor.list(c.moulds), floor.list(c.units)
    number = f"{oven.key.removeprefix('OVEN-')}-{next_cycle_number()}"
    cycle = rows.cycle(number)
    rows.resource("machine", oven.key, "oven")
    rows.resource("machine", arm.key, "arm")
    for logger in floor.list(c.loggers):
        rows.resource("instrument", logger.key, "logger")
    places = _places(moulds, len(again))
    for place, mould in zip(places, moulds, strict=False):
        rows.resource("mould", mould.key, "mould")
        if mould.load:
            rows.cook(cycle, mould.load.uid, f"{arm.key}/{place}")
            _cook_load(rows, floor, cycle, arm.key, mould)
    for place, found in zip(places[len(moulds) :], again, strict=True):
        if found.unit:
            rows.cook(cycle, found.unit.uid, f"{arm.key}/{place}")
            if found.unit.status in COOKED_AGAIN:
                rows.status(found.unit.uid, IN_AGAIN)
    _what_is_set(c, oven, rows)
    n = len(moulds) + len(again)
    return f"{n} {'mould' if n == 1 else 'moulds'} on {arm.key} in cycle {number}"


def _places(moulds: list[Found], more: int) -> list[str]:
    """Where on the arm each mould stands: as it was made ready, else, like mouldings cooked again, the next that is
    free."""
    said = [str((m.load.about if m.load else {}).get("position") or "") for m in moulds] + [""] * more
    free = (str(n) for n in itertools.count(1) if str(n) not in said)
    # Of two that say one place the second moves on: a record of before places were asked for.
    return [place if place and place not in said[:n] else next(free) for n, place in enumerate(said)]


def next_cycle_number() -> int:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval('cycle_number')")
        number: int = cursor.fetchone()[0]
        return number
