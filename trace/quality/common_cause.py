"""What do the bad ones share? The bad hulls named, those at risk beside them, every cause that the records hold
compared.

Statistics name a suspect; only the part itself, looked at, can convict it (common practice).
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

import numpy as np
from django.utils import timezone
from django.utils.translation import gettext as _

from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.built import Built, Hull, all_hulls
from trace.genealogy.find import find_unit
from trace.genealogy.graph import Node
from trace.genealogy.live import LIVE, known_by
from trace.genealogy.places import came_back, places
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import nodes
from trace.lookup import plant_now
from trace.quality.chances import Doses, doses, in_some_window
from trace.quality.compared import Compared, as_incidence, compared, families
from trace.quality.factors import Factor, in_order
from trace.quality.incidence import Flags, Incidence
from trace.quality.next_test import Test, tests_of
from trace.quality.question import Question, QuestionError
from trace.quality.ranking import Ranked, Ranking, periods, ranked

# More hulls at risk than this are a plant's whole life, not a comparison: minutes, not seconds.
MOST_HULLS = 20_000
GONE = "gone: "
BY_PLATE = f"""
SELECT s.text, e.child FROM serial s JOIN edge e ON e.parent = s.plate AND e.role = 'plate' AND NOT e.aside AND {LIVE}
WHERE s.text IN (SELECT jsonb_array_elements_text(%(texts)s::jsonb))
"""


@dataclass(frozen=True, slots=True)
class CommonCause:
    """The answer. Hulls are in the order in which they were made; `bad` are numbers among them, `factors` the causes by
    number. `doses`: of a lot, by the number of its cause. `notes`: what limits the comparison, one sentence each.
    `window`: the share of all hulls between the first bad and the last, and the chance of it."""

    question: Question
    as_known_on: datetime
    tree_size: int
    hulls: tuple[Node, ...]
    built: tuple[Built, ...]
    bad: tuple[int, ...]
    factors: tuple[Factor, ...]
    units: Mapping[int, Node]
    pairs: Incidence
    ranking: Ranking
    doses: Mapping[int, Doses]
    window: tuple[float, float]
    tests: tuple[Test, ...]
    notes: tuple[str, ...]

    def names(self, one: Ranked) -> list[Factor]:
        """The names of one set of hulls, the plainest first."""
        return sorted((self.factors[n] for n in one.causes), key=in_order)


def common_cause(question: Question, as_known_on: datetime | None = None) -> CommonCause:
    """Raises QuestionError, or a LookupError of one sentence for a plate that nobody knew by then."""
    with one_picture():
        known, size = what_was_known(as_known_on)
        at_risk = _at_risk(question, known)
        order = sorted(at_risk.nodes, key=lambda h: (at_risk.built[h].first, at_risk.built[h].last, h))
        found = compared(order, at_risk.built, known, plant_now().calendar)
        factors, pairs = as_incidence(found, len(order))
        bad = np.array([hull in at_risk.bad for hull in order], np.bool_)
        ranking = ranked(pairs, bad, periods(len(order)), families(factors))
        return CommonCause(
            question=question, as_known_on=known, tree_size=size,
            hulls=tuple(at_risk.nodes[hull] for hull in order),
            built=tuple(at_risk.built[hull] for hull in order),
            bad=tuple(int(n) for n in np.flatnonzero(bad)),
            factors=factors, units=found.units, pairs=pairs, ranking=ranking,
            doses=_doses(found, factors, ranking, bad), window=_window(bad),
            tests=tests_of(ranking.first, factors, pairs, known),
            notes=tuple(_notes(question, at_risk, found)),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _AtRisk:
    """Hulls by id. `unsold`: bad ones that were never sent; `outside`: bad ones that the span leaves out."""

    nodes: Mapping[int, Node]
    built: Mapping[int, Built]
    bad: frozenset[int]
    unsold: tuple[str, ...]
    outside: tuple[str, ...]


def _at_risk(question: Question, known: datetime) -> _AtRisk:
    hulls = all_hulls(known)
    bad = _bad_hulls(question.bad, hulls, known)
    models = {hulls[hull].about.get("product") for hull in bad}
    of_model = {hull for hull, one in hulls.items() if one.about.get("product") in models}
    made = {hull for hull in of_model if _within(question, hulls[hull].built, known)}
    if len(made) > MOST_HULLS:
        raise QuestionError(
            _("%(n)d hulls are at risk: name a span of days with fewer than %(most)d.")
            % {"n": len(made), "most": MOST_HULLS}
        )
    where = places(made | bad, known) if question.sold else {}
    # One that came back had been sold.
    sold = {hull for hull, place in where.items() if place.startswith(GONE)}
    sent = sold | came_back(made | bad, known).keys() if question.sold else made | bad
    chosen = nodes((made & sent) | bad, known)
    if len(chosen) == len(bad):
        raise QuestionError(_("No other hull is at risk with these: choose a wider span, or count unsold ones too."))
    return _AtRisk(
        chosen, {hull: hulls[hull].built for hull in chosen}, frozenset(bad),
        tuple(sorted(chosen[hull].said for hull in bad - sent)),
        tuple(sorted(chosen[hull].said for hull in bad - made)),
    )  # fmt: skip


def _bad_hulls(plates: Sequence[str], hulls: Mapping[int, Hull], known: datetime) -> set[int]:
    """The ids behind the plates: in one query, but for what is no whole plate."""
    texts = [plate.strip().upper() for plate in plates]
    by_plate = dict(fetch_rows(BY_PLATE, {"texts": json.dumps(texts), "known": known_by(known)}))
    found = {by_plate.get(text) or find_unit(plate, known) for text, plate in zip(texts, plates, strict=True)}
    for hull in found - hulls.keys():
        raise QuestionError(_("%(code)s is not a hull.") % {"code": nodes([hull], known)[hull].said})
    return found


def _within(question: Question, when: Built, known: datetime) -> bool:
    """Whether a hull may have been made in the span; one that nobody can date is in every span."""
    first = timezone.make_aware(datetime.combine(question.first, time.min)) if question.first else None
    last = timezone.make_aware(datetime.combine(question.last, time.max)) if question.last else None
    if question.days:
        old_enough = known - timedelta(days=question.days)
        last = min(last, old_enough) if last else old_enough
    return not ((first and when.last < first) or (last and when.first > last))


def _doses(
    found: Compared, factors: Sequence[Factor], ranking: Ranking, bad: Flags
) -> dict[int, Doses]:
    """Of the lots among the nearest: how much is in the bad that hold it, and in the good."""
    chosen = [n for one in ranking.nearest for n in one.causes if factors[n].sort == "lot" and not factors[n].part]
    result = {}
    for n in chosen:
        hulls, much = found.holding(factors[n])
        told = ~np.isnan(much)
        dose = doses(much[told & bad[hulls]], much[told & ~bad[hulls]])
        if dose is not None:
            result[n] = dose
    return result


def _window(bad: Flags) -> tuple[float, float]:
    at = np.flatnonzero(bad)
    share = float(at[-1] - at[0] + 1) / len(bad)
    return share, in_some_window(len(at), share)


def _notes(question: Question, at_risk: _AtRisk, found: Compared) -> list[str]:
    notes = []
    if not question.sold:
        notes.append(_("Unsold hulls are counted too: they cannot have failed yet, so every rate here is a floor."))
    if at_risk.unsold:
        notes.append(_("Bad, and never sent by the records: %(which)s.") % {"which": ", ".join(at_risk.unsold)})
    if at_risk.outside:
        words = _("Bad, and made outside of the span or too lately: %(which)s. They are compared all the same.")
        notes.append(words % {"which": ", ".join(at_risk.outside)})
    gaps = sorted({f"{f.key} {f.part}".strip() for f in found.rows if f.sort == "gap"})
    if gaps:
        words = _("Some hulls lack a record of: %(what)s. They may have a cause that it would have named.")
        notes.append(words % {"what": ", ".join(gaps)})
    if found.left_out:
        notes.append(
            _("%(n)d shares of less than a millionth, in vessels that were never emptied, are left out.")
            % {"n": found.left_out}
        )
    return notes
