"""Judges an act while it is still being put together, by the rules whose facts are there already."""

from collections.abc import Mapping
from typing import Any

from trace.recording.commands import HANDLERS, Command
from trace.recording.floor.standing import Floor
from trace.recording.rules.base_facts import base_facts
from trace.recording.rules.engine import Finding, evaluate
from trace.recording.rules.table import TABLE


def look_ahead(
    command: Command, floor: Floor, only: tuple[str, ...], switched: Mapping[str, str]
) -> tuple[list[Finding], dict[str, Any]]:
    """What the rules named in `only` say of the act so far; those about missing codes and figures stay silent.

    A wrong box is then stopped at its own scan, not when the whole charge is weighed.
    """
    rules = tuple(rule for rule in TABLE if rule.code in only and not rule.basic)
    facts = base_facts(command, floor) | HANDLERS[type(command)].facts(command, floor)
    return evaluate(rules, command.KIND, facts, switched, basic=False), facts
