"""The answer to "what do the bad ones share" as JSON, and as lines to read."""

import json
from collections.abc import Iterator
from math import isfinite
from typing import Any

from django.utils.translation import gettext as _

from trace.genealogy.documents import utc
from trace.quality.chances import Doses
from trace.quality.common_cause import CommonCause
from trace.quality.exact import Table, exact_bounds
from trace.quality.factors import asks, said
from trace.quality.ranking import Ranked, Split

# Figures of a JSON document: enough for any reader, and the same on every machine.
DIGITS = 6


def figure(value: float) -> float | None:
    """To six digits; None for what is no number."""
    return float(f"{value:.{DIGITS}g}") if isfinite(value) else None


def as_json(answer: CommonCause) -> dict[str, Any]:
    """{bad, at_risk, looked_at, sets, as_known_on, tree_size, causes, tests, window, notes}."""
    asked = answer.question
    return {
        "bad": [answer.hulls[n].code for n in answer.bad],
        "made": [day.isoformat() if day else None for day in (asked.first, asked.last)],
        "sold": asked.sold,
        "days": asked.days,
        "at_risk": len(answer.hulls),
        "looked_at": answer.ranking.causes,
        "sets": answer.ranking.sets,
        "as_known_on": utc(answer.as_known_on),
        "tree_size": answer.tree_size,
        "stands_out": answer.ranking.first is not None,
        "causes": [_cause(answer, one) for one in answer.ranking.nearest],
        "window": {"share": figure(answer.window[0]), "chance": figure(answer.window[1])},
        "tests": [
            {
                "of": [said(factor, answer.units) for factor in test.factors], "hulls": test.hulls, "list": test.of,
                "settles": test.settles, "may": test.may, "samples": [one.code for one in test.samples],
            }
            for test in answer.tests
        ],
        "notes": list(answer.notes),
    }


def _cause(answer: CommonCause, one: Ranked) -> dict[str, Any]:
    low, high = exact_bounds(one.table.hit, one.table.exposed)
    return {
        "names": [
            {"said": said(name, answer.units), "sort": name.sort, "ask": list(asks(name, answer.units))}
            for name in answer.names(one)
        ],
        "standing": one.standing,
        **_table(one.table),
        "rate_bounds": [figure(low), figure(high)],
        "p_more": figure(one.p_more),
        "p_both": figure(one.p_both),
        "corrected": figure(one.corrected),
        "cuts": one.cuts,
        "p_time_held": figure(one.period.p_more),
        "least": {**_table(one.least), "p_more": figure(one.p_least)},
        "most": {**_table(one.most), "p_more": figure(one.p_most)},
        "with_first_held": _split(one.against),
        "first_with_it_held": _split(one.first_against),
        "dose": next((_dose(answer.doses[n]) for n in one.causes if n in answer.doses), None),
    }


def _table(table: Table) -> dict[str, Any]:
    return {
        "bad": table.hit, "hulls": table.exposed, "coverage": figure(table.coverage),
        "rate_with": figure(table.rate_with), "rate_without": figure(table.rate_without), "lift": figure(table.lift),
    }  # fmt: skip


def _split(split: Split | None) -> dict[str, Any] | None:
    if split is None:
        return None
    return {
        "within": {**_counts(split.within), "p_more": figure(split.p_within)},
        "outside": {**_counts(split.outside), "p_more": figure(split.p_outside)},
        "p_more": figure(split.together.p_more),
        "exact": split.together.exact,
    }


def _counts(table: Table) -> dict[str, int]:
    return {"bad": table.hit, "hulls": table.exposed, "all_bad": table.bad, "all": table.hulls}


def _dose(dose: Doses) -> dict[str, Any]:
    return {
        "bad": figure(dose.bad), "good": figure(dose.good), "more_in_bad": figure(dose.more_in_bad),
        "p_more": figure(dose.p_more),
    }  # fmt: skip


def as_text(answer: CommonCause) -> str:
    """The JSON text itself: equal for equal knowledge."""
    return json.dumps(as_json(answer), ensure_ascii=False, indent=1, sort_keys=True)


def as_lines(answer: CommonCause) -> Iterator[str]:
    """Lines to read: the sentence, the nearest causes, what limits it."""
    yield sentence(answer)
    yield _("As known on %(on)s (%(size)d events). %(causes)d causes looked at, %(sets)d different sets of hulls.") % {
        "on": utc(answer.as_known_on), "size": answer.tree_size, "causes": answer.ranking.causes,
        "sets": answer.ranking.sets,
    }  # fmt: skip
    yield ""
    for n, one in enumerate(answer.ranking.nearest, 1):
        yield _("%(n)d. %(name)s: %(hit)d of %(bad)d bad, %(exposed)d of %(hulls)d; lift %(lift)s, p %(p)s,"
                " corrected %(q)s, with the time held %(time)s: %(standing)s") % {
            "n": n, "name": names_said(answer, one), "hit": one.table.hit, "bad": one.table.bad,
            "exposed": one.table.exposed, "hulls": one.table.hulls, "lift": f"{one.table.lift:.2f}",
            "p": f"{one.p_more:.2g}", "q": f"{one.corrected:.2g}", "time": f"{one.period.p_more:.2g}",
            "standing": one.standing,
        }  # fmt: skip
    yield from answer.notes
    yield no_proof()


def names_said(answer: CommonCause, one: Ranked, most: int = 3) -> str:
    """The names of one set, the plainest first, joined by "="."""
    names = [said(name, answer.units) for name in answer.names(one)]
    more = [_("%(n)d more names") % {"n": len(names) - most}] if len(names) > most else []
    return " = ".join([*names[:most], *more])


def sentence(answer: CommonCause) -> str:
    """What came out, in one sentence."""
    first, ranking = answer.ranking.first, answer.ranking
    counts = {"bad": ranking.bad, "hulls": ranking.hulls, "causes": ranking.causes}
    if first is None:
        return _("Nothing stands out: of the %(causes)d causes looked at, none is in the %(bad)d bad hulls more than"
                 " chance explains.") % counts  # fmt: skip
    told = _("%(name)s stands out of the %(causes)d causes looked at: it is in %(hit)d of the %(bad)d bad hulls, and in"
             " %(exposed)d of the %(hulls)d at risk.") % {
        **counts, "name": said(answer.names(first)[0], answer.units), "hit": first.table.hit,
        "exposed": first.table.exposed,
    }  # fmt: skip
    if not ranking.tied:
        return told
    rivals = ", ".join(said(answer.names(one)[0], answer.units) for one in ranking.tied)
    return told + _(" Tied with it, since the records cannot part them: %(rivals)s.") % {"rivals": rivals}


def no_proof() -> str:
    return _("This names a suspect and proves nothing: only the part itself, cut and looked at, can show the cause.")
