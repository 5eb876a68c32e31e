"""Evaluates the rule table: data in, findings out. No Django, so that a tablet's evaluator can be held against it."""

import hashlib
import json
import re
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, replace
from functools import cache
from typing import Any

import cel

VERDICTS = ("refuse", "hold", "warn", "off")


@dataclass(frozen=True)
class Rule:
    """One row of the table.

    guards: the kinds of event it looks at ("*" for all). when: a CEL expression over the facts; true means the
    rule speaks. what, why, now: the sentence, with facts in braces. verdict: refuse, hold (recorded, and what it
    touches is held) or warn. override: roles that may let it pass with a reason; empty: nobody. basic: without
    what it asks for, nothing can be recorded of the act but that it happened. fixed: a plant cannot switch it.
    """

    code: str
    guards: tuple[str, ...]
    reads: tuple[str, ...]
    when: str
    what: str
    why: str
    now: str
    verdict: str = "refuse"
    override: tuple[str, ...] = ()
    basic: bool = False
    fixed: bool = False


@dataclass(frozen=True)
class Finding:
    """A rule that spoke, its verdict in force and its sentence filled with the facts."""

    code: str
    verdict: str
    what: str
    why: str
    now: str
    override: tuple[str, ...]
    basic: bool


@cache
def _program(expression: str) -> cel.Program:
    return cel.compile(expression)


def evaluate(
    table: tuple[Rule, ...],
    kind: str,
    facts: Mapping[str, Any],
    switched: Mapping[str, str],
    *,
    basic: bool | None = None,
) -> list[Finding]:
    """The rules that speak for this kind of event, worst first. `switched` is the plant's choice per code.

    The basic rules, and only when they are silent the others; `basic`: the one or the others alone. A predicate that
    cannot be evaluated speaks as a refusal: a fact that is missing is not a pass.
    """
    asked = [r for r in table if basic in (None, r.basic) and (kind in r.guards or "*" in r.guards)]
    if _all_silent(tuple(r for r in asked if _in_force(r, switched) != "off"), facts):
        return []
    first, others = [r for r in asked if r.basic], [r for r in asked if not r.basic]
    return _worst_first(first, facts, switched) or _worst_first(others, facts, switched)


def _worst_first(rules: list[Rule], facts: Mapping[str, Any], switched: Mapping[str, str]) -> list[Finding]:
    found = [_spoken(rule, facts, switched) for rule in rules]
    return sorted((f for f in found if f is not None), key=lambda f: VERDICTS.index(f.verdict))


def _in_force(rule: Rule, switched: Mapping[str, str]) -> str:
    return rule.verdict if rule.fixed else switched.get(rule.code, rule.verdict)


@cache
def _any_of(conditions: tuple[str, ...]) -> cel.Program:
    return cel.compile(" || ".join(f"({one})" for one in conditions))


# A fact in a condition, with the field that is read of it.
_FACT = re.compile(r"(?<![\w.])([A-Za-z_]\w*)(?:\.(\w+))?")


@cache
def _fields_read(conditions: tuple[str, ...]) -> dict[str, frozenset[str]]:
    """The fields that these conditions read of each fact; "" among them where they ask for the fact as a whole."""
    named = {match for one in conditions for match in _FACT.findall(one)}
    return {fact: frozenset(field for name, field in named if name == fact) for fact, _ in named}


def _part(fact: Mapping[str, Any], fields: Collection[str]) -> Mapping[str, Any]:
    return fact if "" in fields else {name: fact[name] for name in fields if name in fact}


def _all_silent(rules: tuple[Rule, ...], facts: Mapping[str, Any]) -> bool:
    """True when no rule speaks and each could be answered: asked as one condition, since the facts are then handed over
    once and not for every rule. An `||` of CEL is false only where both its sides are.

    Handing a fact over takes longer than asking about it: what only the sentences need of it stays here."""
    if not rules:
        return True
    conditions = tuple(rule.when for rule in rules)
    fields = _fields_read(conditions)
    try:
        read = {name: _part(facts[name], fields.get(name, ())) for name in {n for rule in rules for n in rule.reads}}
        return _any_of(conditions).execute(read) is False
    except (RuntimeError, KeyError, ValueError, TypeError):
        return False


def _spoken(rule: Rule, facts: Mapping[str, Any], switched: Mapping[str, str]) -> Finding | None:
    """The rule's finding with its sentence filled in, None where it is silent or switched off."""
    verdict = _in_force(rule, switched)
    if verdict == "off":
        return None
    try:
        if not _program(rule.when).execute({name: facts[name] for name in rule.reads}):
            return None
        what, why, now = (part.format_map(facts).strip() for part in (rule.what, rule.why, rule.now))
    except (RuntimeError, KeyError, ValueError, TypeError) as error:
        return _unanswered(rule, error)
    return Finding(rule.code, verdict, what, why, now, rule.override, rule.basic)


def _unanswered(rule: Rule, error: Exception) -> Finding:
    return Finding(
        rule.code,
        "refuse",
        f"The rule {rule.code} could not be answered.",
        f"A fact it needs is missing ({error}).",
        "Tell the plant administrator; do not go on by guess.",
        rule.override,
        rule.basic,
    )


def rule_set(table: tuple[Rule, ...], switched: Mapping[str, str]) -> str:
    """A short name for the table and the plant's choices in force: equal names, equal rules."""
    choices = tuple(sorted(switched.items()))
    # Asked at every scan, and the table never changes while the program runs.
    known = _names.get((id(table), choices))
    if known is None:
        text = json.dumps([[asdict(r) for r in table], choices], sort_keys=True)
        # The table is kept with its name: another one could get its id once it is gone.
        known = _names[(id(table), choices)] = (table, hashlib.sha256(text.encode()).hexdigest()[:12])
    return known[1]


_names: dict[tuple[int, tuple[tuple[str, str], ...]], tuple[tuple[Rule, ...], str]] = {}


def as_switched(table: tuple[Rule, ...], switched: Mapping[str, str]) -> list[Rule]:
    """The table as it is in force, for the page that shows it."""
    return [r if r.fixed else replace(r, verdict=switched.get(r.code, r.verdict)) for r in table]
