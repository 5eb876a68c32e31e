"""How people and instruments scatter: what a scale shows, where a worker stops, what a thermometer and a gauge read.

Plain Python. Every figure is invented; the widths are common practice, without a source. Random numbers come from the
generator that is handed in, so a seed gives the same readings again.
"""

from dataclasses import dataclass
from decimal import Decimal
from random import Random

MG = 1_000_000  # of a kilogram


@dataclass(frozen=True)
class Worker:
    """aim: where this person stops, in parts of the tolerance above or below the target; spread: how far the stops lie
    apart, likewise; likes: last digits at which this person likes to stop; haste: how much quicker than the others."""

    aim: float = 0.0
    spread: float = 0.33
    likes: str = ""
    haste: float = 1.0


WORKERS = {
    "P-01": Worker(aim=-0.08, spread=0.28),
    "P-02": Worker(aim=0.15, spread=0.36, likes="05", haste=1.15),
    "P-03": Worker(aim=0.0, spread=0.24),
    "P-11": Worker(aim=0.22, spread=0.44, likes="02468", haste=1.3),
    "P-12": Worker(aim=0.05, spread=0.30),
    "P-13": Worker(aim=-0.12, spread=0.34),
    "P-14": Worker(aim=0.10, spread=0.40, likes="28", haste=0.9),
    "P-16": Worker(aim=0.02, spread=0.31),
}


@dataclass
class Scale:
    """A scale as it is: what it shows is `reads` times what lies on it, rounded to its step."""

    step: Decimal = Decimal("0.01")
    reads: Decimal = Decimal(1)


def stop(rng: Random, worker: Worker, target: Decimal, tolerance: Decimal, step: Decimal, before: Decimal) -> Decimal:
    """What the scale shows when this worker stops: within the tolerance, on a step, and not as the time before."""
    while True:
        aimed = float(target) + float(tolerance) * rng.gauss(worker.aim, worker.spread)
        shown = (Decimal(repr(aimed)) / step).to_integral_value() * step
        liked = not worker.likes or str(shown.quantize(step))[-1] in worker.likes
        if abs(shown - target) > tolerance or shown == before or not (liked or rng.random() < 0.7):
            continue
        return shown.quantize(step)


def really(rng: Random, shown: Decimal, scale: Scale) -> int:
    """What lies on a scale that shows so many kg, in mg: anything that it would show so."""
    between = Decimal(rng.randrange(-499, 500)) / 1000 * scale.step
    return int((shown + between) / scale.reads * MG)


def displayed(rng: Random, kilograms: float, step: str, spread: float = 0.0) -> str:
    """What a scale of this step shows for so many kg that lie on it more or less still."""
    return str((Decimal(repr(rng.gauss(kilograms, spread))) / Decimal(step)).to_integral_value() * Decimal(step))


def checked(rng: Random, mass: Decimal, scale: Scale) -> str:
    """What a scale shows for its check mass: most days to the step, some days one beside it."""
    off = rng.choices((-1, 0, 1), (0.16, 0.66, 0.18))[0] * scale.step if scale.reads == 1 else 0
    return str(((mass * scale.reads / scale.step).to_integral_value() * scale.step + off).quantize(scale.step))


def read(rng: Random, mean: float, spread: float, digits: int = 1) -> str:
    """A reading with so many decimals."""
    return f"{rng.gauss(mean, spread):.{digits}f}"


def minutes(rng: Random, usual: float, haste: float = 1.0) -> float:
    """How long a piece of work takes: never much less than usual, now and then much longer."""
    return usual / haste * (0.75 + rng.gammavariate(2.2, 0.125))


def lag_days(rng: Random, median: float, spread: float) -> float:
    """A lag in days, log-normal: half are longer than the median."""
    return median * rng.lognormvariate(0, spread)


def pieces(amount: int, shares: list[int]) -> list[int]:
    """A whole amount shared out by these weights, to the last unit (largest remainders first)."""
    total = sum(shares)
    if not total:
        return [0] * len(shares)
    parts = [amount * share // total for share in shares]
    rest = sorted(range(len(shares)), key=lambda n: (-(amount * shares[n] % total), n))
    for n in rest[: amount - sum(parts)]:
        parts[n] += 1
    return parts
