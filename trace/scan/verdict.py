"""Says the answer to a scan as the station page shows it: shape, words, and the ways that are open after a refusal."""

import json
from collections.abc import Mapping, Sequence

from django.utils import timezone
from django.utils.translation import gettext as _

from plant.access import role_words
from trace.recording.answers import Answer
from trace.recording.commands import HANDLERS
from trace.recording.rules.table import BY_CODE
from trace.scan.page import Choice, Override, Verdict
from trace.speech import spoken

WORST = ("refused", "flagged", "warned", "accepted")
# Nothing happened that could be told as a fact: the scan was misread, or a figure cannot be read.
NO_FACT = {"CODE-MISREAD", "CODE-UNKNOWN", "CODE-WRONG-KIND", "LABEL-REPLACED", "AMOUNT-UNREADABLE", "TIME-AHEAD",
           "REASON-MISSING", "GATE-NO-CONSIGNEE", "GATE-NO-VEHICLE", "WALK-UNKNOWN", "WALK-OVER",
           "CHECK-WEIGHT-AGAIN"}  # fmt: skip


def worst(answers: Sequence[Answer]) -> Answer:
    """The answer to show when one scan made several records."""
    return min(answers, key=lambda answer: WORST.index(answer.outcome))


def reasons() -> tuple[Choice, ...]:
    """The short list that an override is given with, beside the person's own words."""
    return tuple(
        Choice(value, label)
        for value, label in (
            ("checked by hand", _("Checked by hand")),
            ("record behind", _("The record is behind")),
            ("agreed with quality", _("Agreed with quality")),
            ("urgent", _("Cannot wait")),
        )
    )


def verdict(
    answers: Sequence[Answer],
    *,
    roles: frozenset[str] = frozenset(),
    judged: Mapping[str, str] | None = None,
    passed: Mapping[str, str] | None = None,
    label_url: str = "",
    error: str = "",
) -> Verdict:
    """One verdict for the answers of one scan. `judged`: what the fact or override form sends again."""
    answer = worst(answers)
    recorded = " · ".join(dict.fromkeys(a.recorded for a in answers if a.recorded))
    also = dict.fromkeys(said for a in answers for said in ((a.what, *a.also) if a is not answer else a.also) if said)
    also.pop(answer.what, None)
    what, why, now, recorded, *others = spoken([answer.what, answer.why, answer.now, recorded, *also])
    refused = answer.outcome == "refused"
    if any(f["code"] == answer.code and f.get("overridden") for f in answer.found):
        now = _("Overridden; the reason stays in the record.")
    rule = BY_CODE.get(answer.code)
    may = tuple(answer.override) if refused and rule and not rule.fixed and not answer.basic else ()
    again = dict(judged or {}) | {"rule": answer.code, "passed": json.dumps(dict(passed or {}))}
    return Verdict(
        outcome=answer.outcome,  # type: ignore[arg-type]
        headline=what if refused else recorded,
        what=(_("Recorded all the same: %(words)s.") % {"words": recorded} if recorded else "") if refused else what,
        why=why,
        now=now,
        also=tuple(others),
        rule=answer.code,
        recorded=None if answer.replayed else timezone.now(),
        replayed=answer.replayed and not error,
        label_url=label_url,
        fact=_("Already done? Record it as a fact")
        if refused and judged is not None and answer.code not in NO_FACT and not decides(answer.code)
        else "",
        override=Override(
            who_may=_(" or ").join(role_words(role) for role in may),
            reasons=reasons(),
            asks_badge=not (roles & set(may)),
            error=error,
        )
        if may and judged is not None
        else None,
        judged=again if refused else {},
    )


def decides(code: str) -> bool:
    """True for a rule that guards decisions alone: what a person decides has not happened before it is decided."""
    rule = BY_CODE.get(code)
    return rule is not None and set(rule.guards) <= {command.KIND for command in HANDLERS if command.DECISION}


def plain_refusal(what: str, why: str, now: str) -> Verdict:
    """A refusal that never reached the records."""
    return Verdict("refused", what, "", why, now)
