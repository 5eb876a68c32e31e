"""Impact tests in the cold: a dart dropped on specimens step by step, the height at which half fail, what that means.

A test that fails reaches back to the last that passed of the same arm, recipe and lots, as a failed check-weight does.
"""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes.staircase import Reckoned, next_height, reckoned
from trace.genealogy.impact import (
    DROPPED,
    FAILED,
    PASSED,
    REOPENED,
    TAKEN_BACK,
    UNDECIDED,
    Drop,
    Moulding,
    Series,
    doubted,
    mouldings_of,
    open_drops,
    series,
)
from trace.readmodels.rows import Rows
from trace.recording.acts.complaint_words import word
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.readings import reading
from trace.recording.floor.standing import Floor, UnitFacts

IMPACT_FAILS = "IMPACT-FAILS"
SPECIMEN = ("hull", "moulding", "part")
RESULTS = {"pass": noop("did not fail"), "ductile": noop("failed, ductile"), "brittle": noop("failed, brittle")}
# Darts of the trade's cold impact test, from memory; results with different darts are not compared.
DARTS = ("10 lb", "15 lb", "20 lb", "30 lb")
HIGHEST_M, COLDEST_C, WARMEST_C = Decimal(10), Decimal(-80), Decimal(60)
# How far the specimen may be off the plan's temperature where the recipe does not say: common practice, no source.
WITHIN_C, FEWEST = "3", "5"


@dataclass(frozen=True, kw_only=True)
class DropDart(Command):
    """One drop on a specimen that was cut out of this hull, moulding or part. height in m, temperature of the specimen
    in °C; dart: of DARTS; result: of RESULTS."""

    KIND = "impact_dropped"
    NAME = noop("drop a dart")

    unit: str = scanned(*SPECIMEN)
    height: str
    result: str
    temperature: str
    dart: str = DARTS[0]

    @staticmethod
    def told(e: Told) -> str:
        return _("Impact, %(dart)s from %(height)s m at %(c)s °C: %(result)s") % {
            "dart": e.says["dart"], "height": e.says["height"], "c": e.says["temperature"],
            "result": word(RESULTS, e.says["result"]),
        }  # fmt: skip


def plan_of(floor: Floor, unit: UnitFacts | None) -> Facts:
    """What the recipe in force when it happens asks of an impact test; {} where it asks nothing."""
    body = floor.plant.body("product", unit.about.get("product")) if unit else {}
    found: Facts = body.get("impact") or {}
    return found


def drop_trouble(c: DropDart) -> str:
    """Why what was typed is no drop, in one sentence; "" where it is one."""
    height, cold = reading(c.height), reading(c.temperature)
    if height is None or not 0 < height <= HIGHEST_M:
        return f"“{c.height[:20]}” is no height: write metres with a point, as in 1.05."
    if cold is None or not COLDEST_C <= cold <= WARMEST_C:
        return f"“{c.temperature[:20]}” is no temperature of a specimen: write °C, as in -40."
    if c.result not in RESULTS or c.dart not in DARTS:
        return "Say which dart it was, and whether it failed and how."
    return ""


def _off_plan(c: DropDart, plan: Facts) -> bool:
    cold, wanted = reading(c.temperature), plan.get("below_zero_c")
    if cold is None or wanted is None:
        return False
    return abs(cold + Decimal(wanted)) > Decimal(plan.get("within_c", WITHIN_C))


def wanted_height(drops: list[Drop], plan: Facts) -> Decimal | None:
    """Where the staircase goes on; None for the first drop, or where nothing says the step."""
    if not drops or "step_m" not in plan:
        return None
    return next_height(Decimal(drops[-1].height), drops[-1].failed, Decimal(plan["step_m"]))


def _cold_facts(c: DropDart, plan: Facts, trouble: str) -> Facts:
    return {
        "warm": not trouble and _off_plan(c, plan),
        "cold": c.temperature[:20],
        "plan_c": f"-{plan.get('below_zero_c', '?')}",
        "within": str(plan.get("within_c", WITHIN_C)),
    }


def _dart_facts(c: DropDart, plan: Facts) -> Facts:
    return {
        "other_dart": bool(plan.get("dart")) and c.dart != plan["dart"],
        "dart": c.dart[:20],
        "plan_dart": str(plan.get("dart", "?")),
    }


def _step_facts(c: DropDart, wanted: Decimal | None, trouble: str) -> Facts:
    return {
        "off_step": not trouble and wanted is not None and reading(c.height) != wanted,
        "height": c.height[:20],
        "wanted": f"{wanted or 0:f}",
    }


def drop_facts(c: DropDart, floor: Floor) -> Facts:
    unit = floor[c.unit].unit
    plan, trouble = plan_of(floor, unit), drop_trouble(c)
    wanted = wanted_height(open_drops(unit.id), plan) if unit else None
    return {
        "typed": {"trouble": trouble},
        "impact": {
            **_cold_facts(c, plan, trouble), **_dart_facts(c, plan), **_step_facts(c, wanted, trouble),
        },
    }  # fmt: skip


@handles(DropDart, drop_facts)
def drop_dart(c: DropDart, floor: Floor, rows: Rows) -> str:
    unit = floor[c.unit].unit
    assert unit is not None  # noqa: S101 - the code was asked to be one
    rows.touch(unit.uid, DROPPED)
    return f"{floor[c.unit].name}: {c.height} m, {RESULTS.get(c.result, c.result)}"


@dataclass(frozen=True, kw_only=True)
class TakeBackDrop(Command):
    """A drop was recorded wrongly, by the uid of its event; the right one is recorded again."""

    KIND = "impact_drop_taken_back"
    NAME = noop("take a drop back")
    DECISION = True

    unit: str = scanned(*SPECIMEN)
    drop: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("A drop taken back: %(why)s") % {"why": e.why or _("no reason given")}


def take_back_facts(c: TakeBackDrop, floor: Floor) -> Facts:
    unit = floor[c.unit].unit
    there = {drop.uid for drop in open_drops(unit.id)} if unit else set()
    return {"impact": {"gone": c.drop not in there}, "correction": {"no_reason": not c.reason.strip()}}


@handles(TakeBackDrop, take_back_facts)
def take_back(c: TakeBackDrop, floor: Floor, rows: Rows) -> str:
    unit = floor[c.unit].unit
    assert unit is not None  # noqa: S101
    rows.touch(unit.uid, TAKEN_BACK)
    return f"{floor[c.unit].name}: a drop taken back"


@dataclass(frozen=True, kw_only=True)
class EndImpact(Command):
    """The staircase on a specimen is over: its mean failure height, held against the least of the recipe."""

    KIND = "impact_ended"
    NAME = noop("end an impact test")
    # What it brings into doubt is read and held in one.
    ALONE = True

    unit: str = scanned(*SPECIMEN)

    @staticmethod
    def told(e: Told) -> str:
        mean = next((row["value"] for row in e.part("readings")), "?")
        roles = {row["role"] for row in e.part("touches")}
        said = _("failed") if FAILED in roles else _("not decided") if UNDECIDED in roles else _("passed")
        return _("Impact test %(said)s, mean failure height %(mean)s m") % {"said": said, "mean": mean}


def _result(drops: list[Drop], plan: Facts) -> Reckoned | None:
    pairs = [(Decimal(drop.height), drop.failed) for drop in drops]
    return reckoned(pairs, Decimal(plan["step_m"])) if "step_m" in plan else None


def _counted_facts(found: Reckoned | None, plan: Facts) -> Facts:
    counted, fewest = found.counted if found else 0, int(Decimal(plan.get("fewest", FEWEST)))
    return {"few": bool(plan) and counted < fewest, "counted": counted, "fewest": fewest}


def _mean_facts(found: Reckoned | None, drops: list[Drop], plan: Facts) -> Facts:
    brittle = sum(drop.result == "brittle" for drop in drops)
    return {
        "fails": brittle > 0 or (found is not None and found.mean < Decimal(plan.get("least_m", "0"))),
        "brittle": brittle,
        "mean": f"{found.mean:.3f}" if found else "?",
        "least": str(plan.get("least_m", "?")),
    }


def end_facts(c: EndImpact, floor: Floor) -> Facts:
    unit = floor[c.unit].unit
    plan, drops = plan_of(floor, unit), open_drops(unit.id) if unit else []
    found = _result(drops, plan)
    return {
        "impact": {
            "no_plan": not plan.get("step_m") or not plan.get("least_m"),
            "product": str(unit.about.get("product", "?")) if unit else "?",
            **_counted_facts(found, plan),
            **_mean_facts(found, drops, plan),
        }
    }


@handles(EndImpact, end_facts)
def end_impact(c: EndImpact, floor: Floor, rows: Rows) -> str:
    unit = floor[c.unit].unit
    assert unit is not None  # noqa: S101
    said = end_facts(c, floor)["impact"]
    if said["mean"] != "?":
        rows.reading("mean failure height", said["mean"], "m", unit=unit.uid)
    if not said["fails"] and (said["no_plan"] or said["mean"] == "?"):
        # Told all the same, though nothing says what passes: it clears nothing.
        rows.touch(unit.uid, UNDECIDED)
        return f"{floor[c.unit].name}: impact test over, nothing decided"
    if not said["fails"]:
        rows.touch(unit.uid, PASSED)
        return f"{floor[c.unit].name}: mean failure height {said['mean']} m, pass"
    rows.touch(unit.uid, FAILED)
    held = list(dict.fromkeys(uid for one in mouldings_of(unit.id) for uid in doubted(one, IMPACT_FAILS)))
    for moulding in held:
        rows.hold(moulding, IMPACT_FAILS)
    return f"{floor[c.unit].name}: mean failure height {said['mean']} m, fail; mouldings held: {len(held)}"


@dataclass(frozen=True, kw_only=True)
class ReopenImpact(Command):
    """A test was ended wrongly, by the uid of the record that ended it: its drops are open again, and it has not passed
    or failed. A hold that it laid stays until somebody ends it; what a pass had cleared is held again."""

    KIND = "impact_reopened"
    NAME = noop("take the end of an impact test back")
    ALONE = True
    DECISION = True

    unit: str = scanned(*SPECIMEN)
    end: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("The end of an impact test taken back: %(why)s") % {"why": e.why or _("no reason given")}


def _last_end(unit: UnitFacts | None) -> Series | None:
    """The last series on a specimen that has ended."""
    told = [one for one in series([unit.id]).get(unit.id, []) if one.verdict] if unit else []
    return told[-1] if told else None


def reopen_facts(c: ReopenImpact, floor: Floor) -> Facts:
    last = _last_end(floor[c.unit].unit)
    return {"impact": {"gone": last is None or last.uid != c.end}, "correction": {"no_reason": not c.reason.strip()}}


@handles(ReopenImpact, reopen_facts)
def reopen(c: ReopenImpact, floor: Floor, rows: Rows) -> str:
    unit = floor[c.unit].unit
    last = _last_end(unit)
    assert unit is not None and last is not None  # noqa: S101 - the basic rules have made sure of it
    rows.touch(unit.uid, REOPENED)
    if last.mean:
        row = {"quantity": "mean failure height", "uom": "m", "unit": unit.uid, "zone": None, "instrument": None}
        rows.reading_righted(c.end, 0, row, None)
    held = _no_longer_cleared(mouldings_of(unit.id), c.end) if last.verdict == "pass" else []
    for moulding in held:
        rows.hold(moulding, IMPACT_FAILS)
    return f"{floor[c.unit].name}: the end of its impact test taken back; mouldings held: {len(held)}"


def _no_longer_cleared(passed: list[Moulding], end: str) -> list[str]:
    """What the tests that failed, of the same arms and recipes, reach without this pass."""
    kinds = {(one.arm, one.product, one.recipe) for one in passed}
    failed = [
        one for unit, told in series().items() if any(some.verdict == "fail" for some in told)
        for one in mouldings_of(unit) if (one.arm, one.product, one.recipe) in kinds
    ]  # fmt: skip
    # What a failed test reached all the while was held for it then, and whoever let it go had a reason.
    before = {uid for one in failed for uid in doubted(one, IMPACT_FAILS)}
    reached = [uid for one in failed for uid in doubted(one, IMPACT_FAILS, without=end)]
    return [uid for uid in dict.fromkeys(reached) if uid not in before]
