"""What each hull of a written season has in common with others by its records, compared by the product's ranking:
lots, boxes, machines, people, places and days; without a database, so that many seasons can be asked."""

from collections.abc import Iterator
from datetime import datetime

import numpy as np

from trace.demo.season.story import Season
from trace.demo.season.truth import Made
from trace.demo.season.weighing import K1
from trace.quality.incidence import CERTAIN, incidence
from trace.quality.ranking import Ranking, periods, ranked

Cause = tuple[str, ...]
SHARES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9)
THINGS = ("product", "colour", "order", "mould", "arm", "shift", "consignee", "loaded_by", "cooked_by", "inspected_by")


def suspects(season: Season, cause: str, *, and_others: bool) -> tuple[Ranking, dict[int, Cause]]:
    """The complaints of this cause as the bad ones (`and_others`: all that look the same), beside all hulls of their
    models that were sent. The causes by number."""
    told = [c for c in season.truth.complaints if c.cause == cause]
    symptoms = {c.symptom for c in told}
    bad = {c.hull for c in season.truth.complaints if (c.symptom in symptoms if and_others else c.cause == cause)}
    hulls = season.truth.hulls()
    models = {m.product for m in hulls if m.serial in bad}
    at_risk = sorted((m for m in hulls if m.product in models and m.fate == "dispatched"), key=lambda m: m.demoulded_at)
    of: dict[Cause, set[int]] = {}
    for n, made in enumerate(at_risk):
        for one in _causes(made):
            of.setdefault(one, set()).add(n)
    family = dict.fromkeys(of, "")
    for one, cut, has in _doses(at_risk):
        of[(*one, cut)] = has
        family[(*one, cut)] = family[one] = " ".join(one)
    numbers = [family[one] or f"only {n}" for n, one in enumerate(of)]
    pairs = incidence(
        len(at_risk), len(of), np.repeat(np.arange(len(of)), [len(has) for has in of.values()]),
        np.array([n for has in of.values() for n in has]), np.full(sum(map(len, of.values())), CERTAIN),
    )  # fmt: skip
    flags = np.array([made.serial in bad for made in at_risk])
    _names, families = np.unique(numbers, return_inverse=True)
    return ranked(pairs, flags, periods(len(at_risk)), families), dict(enumerate(of))


def _causes(made: Made) -> Iterator[Cause]:
    yield from ((name, str(getattr(made, name))) for name in THINGS)
    yield "weekday", f"{datetime.fromisoformat(made.demoulded_at):%A}"
    yield "sent", made.consignee, made.dispatched_at[:10]
    for layer in made.layers:
        yield from (("scale", layer.scale), ("weighed by", layer.person))
        for part in layer.parts:
            yield from (("lot", part.lot), ("supplier", part.supplier), ("box", part.box))
    for placed in [*made.inserts, *made.graphics]:
        if placed.told:
            yield from (("lot", placed.lot), ("box", placed.box))


def _doses(at_risk: list[Made]) -> Iterator[tuple[Cause, str, set[int]]]:
    """At least so much of each lot that went through the vessel."""
    much: dict[Cause, dict[int, int]] = {}
    for n, made in enumerate(at_risk):
        for part in (part for layer in made.layers for part in layer.parts if part.box == K1):
            held = much.setdefault(("lot", part.lot), {})
            held[n] = held.get(n, 0) + part.book_mg
    for one, held in much.items():
        values = sorted(held.values())
        for cut in {values[int(share * (len(values) - 1))] for share in SHARES}:
            yield one, f"at least {cut} mg", {n for n, mg in held.items() if mg >= cut}
