"""A plan's answer as a document with stable names, and as lines to read in the words of the trade."""

import json
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.genealogy.dispersion import AtStake
from trace.genealogy.documents import in_unit, utc
from trace.genealogy.planned import Planned
from trace.genealogy.plans import AS_PLANNED, EMPTY_FIRST, ONE_AFTER_ANOTHER, SAME_LOTS, WHOLE_CHARGES, Way


def as_document(planned: Planned) -> dict[str, Any]:
    """{plan, as_known_on, charge, now, ways, cheapest}: hulls at stake by lot, today and after each way."""
    return {
        "plan": planned.said,
        "as_known_on": utc(planned.as_known_on),
        "charge_kg": in_unit(planned.charge, "mg"),
        "now": [
            {"id": one.lot.uid, "lot": one.lot.lot_no, "hulls": len(one.hulls), "under_way": len(one.under_way)}
            for one in planned.now
        ],
        "ways": [_way(planned, way) for way in planned.ways],
        "cheapest": planned.best.name,
    }


def as_text(planned: Planned) -> str:
    return json.dumps(as_document(planned), ensure_ascii=False, indent=1, sort_keys=True)


def _way(planned: Planned, way: Way) -> dict[str, Any]:
    return {
        "way": way.name, "hulls": way.hulls, "worst": way.worst, "mean": mean_said(way.mean),
        "rest_kg": in_unit(way.rest, "mg"), "orders": way.orders,
        "after": [{"id": one.lot.uid, "lot": one.lot.lot_no, "hulls": way.after[one.lot.id]} for one in planned.now],
    }  # fmt: skip


def mean_said(mean: Fraction) -> str:
    """With one decimal where it is no whole number."""
    return str(mean.numerator) if mean.denominator == 1 else f"{float(mean):.1f}"


def way_words() -> dict[str, str]:
    """Each way as one would say it on the floor."""
    return {
        AS_PLANNED: _("As planned"),
        EMPTY_FIRST: _("Run the vessel empty first, and prove it empty and clean"),
        SAME_LOTS: _("Use more of a lot that is in it already"),
        WHOLE_CHARGES: _("Whole charges only: keep the part bag with its order"),
        ONE_AFTER_ANOTHER: _("One order after the other: the part bag goes on with the next"),
    }


def lot_said(one: AtStake) -> str:
    material = one.lot.about.get("material")
    return " ".join(str(x) for x in (material, _("lot"), one.lot.lot_no or one.lot.said) if x)


def rest_words(way: Way) -> str:
    """What the way leaves over."""
    return _("%(kg)s kg are left over") % {"kg": in_unit(way.rest, "mg")} if way.rest else ""


def advice(planned: Planned) -> str:
    """One sentence: which way is cheapest, and by how many hulls."""
    plan, best = planned.ways[0], planned.best
    if best.cost == plan.cost:
        return _("No way that is known here puts fewer hulls at stake.")
    words = way_words()[best.name]
    if best.worst < plan.worst:
        fewer = plan.worst - best.worst
        told = ngettext("%(way)s: %(n)d hull fewer at the worst.", "%(way)s: %(n)d hulls fewer at the worst.", fewer)
        return told % {"way": words, "n": fewer}
    return _("%(way)s: the worst is as bad, but a recall of a lot takes %(mean)s hulls on average, not %(plan)s.") % {
        "way": words, "mean": mean_said(best.mean), "plan": mean_said(plan.mean),
    }  # fmt: skip


def as_lines(planned: Planned) -> Iterator[str]:
    yield planned.said + ", " + _("%(kg)s kg for one hull") % {"kg": in_unit(planned.charge, "mg")}
    yield _("At stake today, in hulls and what becomes hulls:")
    for one in planned.now:
        yield f"  {lot_said(one):40} {one.count}"
    for way in planned.ways:
        yield ""
        yield way_words()[way.name] + ": " + _("worst %(worst)d, mean %(mean)s") % {
            "worst": way.worst, "mean": mean_said(way.mean)
        }  # fmt: skip
        for one in planned.now:
            yield f"  {lot_said(one):40} {way.after[one.lot.id]}"
        if words := rest_words(way):
            yield "  " + words
    yield ""
    yield advice(planned)
