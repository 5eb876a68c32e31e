"""How a hold is said in one line: what it was laid on, its reason, by whom and when."""

from collections.abc import Mapping
from typing import Any

from trace.recording.floor import words as say
from trace.recording.floor.scopes_on_hold import named
from trace.recording.floor.units import UnitFacts
from trace.recording.rules.table import BY_CODE


def held_by(unit: UnitFacts | None) -> str:
    """One line for the oldest hold on a unit: what it was laid on, if something else; reason, who, when; or ''."""
    if unit is None or not unit.holds:
        return ""
    first = unit.holds[0]
    if not first["happened"]:
        return "a hold that is still being spread"
    of = f"{first['of']}: " if first["on"] != unit.id and first["of"] else ""
    return f"{of}{reason(first)}, {say.person(first['person'])}, {say.clock(first['happened'])}"


def reason(hold: Mapping[str, Any]) -> str:
    """The reason somebody gave for a hold, or what the rule says that laid it by itself."""
    if hold["why"]:
        return say.note(hold["why"])
    scope = named(str(hold["rule"]))
    if scope:
        return f"it shares {hold['rule']}, which is on hold, or may: hulls that {scope.said}; {say.note(scope.why)}"
    rule = BY_CODE.get(hold["rule"])
    if rule is None:
        return f"rule {hold['rule']}"
    # The sentence of a finding names its figures; only the records of that scan know them.
    text = rule.why if "{" in rule.what else rule.what
    return f"{text.rstrip('.')} ({rule.code})" if "{" not in text else f"rule {rule.code}"
