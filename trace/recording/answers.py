"""The answer to a scan: kept as canonical text, so that a replay is answered with the same bytes."""

import json
from dataclasses import dataclass, field
from typing import Any

from trace.readmodels.rows import Rows
from trace.recording.rules.engine import Finding


@dataclass(frozen=True)
class Answer:
    """outcome: accepted, warned, flagged or refused. code: the rule that spoke first, or "". what, why, now: its
    sentence. recorded: the words for what was recorded, "" when refused. rules: the rule set in force.
    found: every rule that spoke, with its verdict; also: what those after the first said. made: codes given out, new
    serials, uids of new units by kind, numbers of complaints and cases. Names stand in it only as ⟦person:…⟧ and
    ⟦note:…⟧.
    """

    outcome: str
    code: str = ""
    what: str = ""
    why: str = ""
    now: str = ""
    recorded: str = ""
    rules: str = ""
    override: tuple[str, ...] = ()
    basic: bool = False
    found: list[dict[str, str]] = field(default_factory=list)
    also: list[str] = field(default_factory=list)
    made: dict[str, Any] = field(default_factory=dict)
    replayed: bool = False

    def text(self) -> str:
        said = {k: v for k, v in self.__dict__.items() if k != "replayed"}
        return json.dumps(said, sort_keys=True, ensure_ascii=False)

    @staticmethod
    def again(text: str) -> "Answer":
        said = json.loads(text)
        return Answer(**{**said, "override": tuple(said["override"]), "replayed": True})

    @staticmethod
    def refused(first: Finding, findings: list[Finding], rules: str) -> "Answer":
        return Answer(
            "refused", first.code, first.what, first.why, first.now, "", rules, first.override, first.basic,
            _found(findings), _also(first, findings),
        )  # fmt: skip

    @staticmethod
    def accepted(
        recorded: str,
        findings: list[Finding],
        held: list[Finding],
        overrides: dict[str, str],
        rules: str,
        rows: Rows,
    ) -> "Answer":
        outcome = "flagged" if held else "warned" if findings else "accepted"
        first = held[0] if held else findings[0] if findings else None
        made = _made(rows)
        found = [{**f, "overridden": "yes"} if f["code"] in overrides else f for f in _found(findings)]
        if first is None:
            return Answer(outcome, recorded=recorded, rules=rules, made=made)
        return Answer(
            outcome,
            first.code,
            first.what,
            first.why,
            first.now,
            recorded,
            rules,
            (),
            first.basic,
            found,
            _also(first, findings),
            made,
        )


def _made(rows: Rows) -> dict[str, Any]:
    """What was given out or made, by what people call it."""
    made: dict[str, Any] = {
        "codes": [r["code"] for r in rows.parts.get("labels", [])],
        "units": [
            {"kind": r["kind"], "uid": r["uid"], "lot_no": r["lot_no"]}
            for r in rows.parts.get("units", [])
            if r["uid"] not in rows.remade
        ],
        "holds": [r["uid"] for r in rows.parts.get("holds", [])],
    }
    numbered = [part for part in ("complaints", "cases") if part in rows.parts]
    return made | {part: [r["number"] for r in rows.parts[part]] for part in numbered} | rows.given


def _also(first: Finding, findings: list[Finding]) -> list[str]:
    return [finding.what for finding in findings if finding.code != first.code]


def _found(findings: list[Finding]) -> list[dict[str, str]]:
    return [{"code": f.code, "verdict": f.verdict} for f in findings]
