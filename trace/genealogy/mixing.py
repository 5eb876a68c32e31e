"""Three models of how a vessel gives what was filled into it: none of them is known to hold, all of them conserve mass.

Plug: first in, first out (mass flow). Funnel: what came last goes first, old stock stays at the walls. Mixed: all that
is in it is one mix from each top-up on. The truth may lie anywhere within the bounds of amounts.py, which only a vessel
that was proved empty and clean closes. Plain Python over exact fractions; amounts in one unit of measure.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Model = Literal["plug", "mixed", "funnel"]
MODELS: tuple[Model, ...] = ("plug", "mixed", "funnel")
Parts = dict[str, Fraction]


@dataclass(frozen=True, slots=True)
class In:
    """So much of one lot on top of what is in it."""

    lot: str
    amount: Fraction


@dataclass(frozen=True, slots=True)
class Out:
    """So much drawn."""

    amount: Fraction


@dataclass(frozen=True, slots=True)
class Emptied:
    """Proved empty and clean: nothing of before is in it any more."""


Step = In | Out | Emptied
# What lies in it, the oldest first.
Bed = list[tuple[Parts, Fraction]]


@dataclass(frozen=True, slots=True)
class Given:
    """`drawn`: lot -> amount of each draw, in their order; `left`: lot -> amount still in it; `gone` when emptied."""

    drawn: tuple[Mapping[str, Fraction], ...]
    left: Mapping[str, Fraction]
    gone: Mapping[str, Fraction]


def given(steps: Iterable[Step], model: Model) -> Given:
    """What each draw took under a model. A draw of more than is in it takes all that is in it."""
    bed: Bed = []
    drawn: list[Mapping[str, Fraction]] = []
    gone: Parts = {}
    for step in steps:
        if isinstance(step, In):
            _LAID[model](bed, step)
        elif isinstance(step, Out):
            drawn.append(_take(bed, step.amount, last_first=model == "funnel"))
        else:
            _add(gone, _take(bed, sum((amount for _parts, amount in bed), Fraction(0)), last_first=False))
    return Given(tuple(drawn), _all_of(bed), gone)


def _on_top(bed: Bed, step: In) -> None:
    if step.amount:
        bed.append(({step.lot: step.amount}, step.amount))


def _stirred(bed: Bed, step: In) -> None:
    _on_top(bed, step)
    parts = _all_of(bed)
    if parts:
        bed[:] = [(parts, sum(parts.values(), Fraction(0)))]


_LAID: Mapping[Model, Callable[[Bed, In], None]] = {"plug": _on_top, "funnel": _on_top, "mixed": _stirred}


def _take(bed: Bed, amount: Fraction, *, last_first: bool) -> Parts:
    taken: Parts = {}
    while amount and bed:
        at = -1 if last_first else 0
        parts, there = bed[at]
        out = min(there, amount)
        share = {lot: part * out / there for lot, part in parts.items()}
        _add(taken, share)
        if out == there:
            bed.pop(at)
        else:
            bed[at] = ({lot: part - share[lot] for lot, part in parts.items()}, there - out)
        amount -= out
    return taken


def _all_of(bed: Bed) -> Parts:
    parts: Parts = {}
    for some, _amount in bed:
        _add(parts, some)
    return parts


def _add(parts: Parts, more: Mapping[str, Fraction]) -> None:
    for lot, amount in more.items():
        parts[lot] = parts.get(lot, Fraction(0)) + amount
