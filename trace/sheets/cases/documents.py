"""Complaints and cases as plain JSON for other systems: what stands in their events, without a name or a free word."""

from typing import Any

from trace.recording.acts.cases import CloseCase, HoldForCase, KeepScope, TellConsignee
from trace.sheets.cases.told import Case, Complaint, HullNow, Told

PLAIN = (
    "symptom", "spot", "plate", "product", "colour", "month", "sold", "failed", "reported", "hours", "months",
    "through",
)  # fmt: skip


def complaints_as_json(every: Told, hulls: dict[str, HullNow]) -> list[dict[str, Any]]:
    """One object a complaint, by number; null for what was not told."""
    return [_complaint(one, hulls) for one in every.complaints.values()]


def _complaint(one: Complaint, hulls: dict[str, HullNow]) -> dict[str, Any]:
    here = hulls.get(one.hull or "")
    return {
        "number": one.number,
        "taken": one.entry.recorded.isoformat(),
        "hull": here.serial if here else None,
        "case": one.case,
        "open": one.open,
        "photos": len(one.entry.part("blobs")),
        **{name: one.says.get(name) or None for name in PLAIN},
    }


def cases_as_json(every: Told) -> list[dict[str, Any]]:
    """One object a case, by number, with its steps as far as they are no words."""
    return [_case(case, every) for case in every.cases.values()]


def _case(case: Case, every: Told) -> dict[str, Any]:
    closed = None if case.open else case.of(CloseCase)[-1]
    return {
        "number": case.number,
        "opened": case.entry.recorded.isoformat(),
        "open": case.open,
        "complaints": [one.number for one in every.inside(case.number)],
        "suspects": [
            {"cause": list(cause), "stands": step.says["stands"]} for cause, step in case.suspects.items()
        ],
        "scopes": [
            {
                "cause": step.says["cause"], "as_known_on": step.says["known"],
                **{name: step.says[name] for name in ("certain", "may", "cannot", "tree_size")},
            }
            for step in case.of(KeepScope)
        ],
        "holds": [{"hold": step.says["hold"], "cause": step.says["cause"]} for step in case.of(HoldForCase)],
        "told": [
            {name: step.says[name] for name in ("consignee", "day", "way")} for step in case.of(TellConsignee)
        ],
        "closed": {name: closed.says[name] for name in ("cause", "hulls")} if closed else None,
    }  # fmt: skip
