"""What a kind of mistake is: its name, and how one of it is played."""

from collections.abc import Callable
from dataclasses import dataclass

from trace.measure.mistakes.floor import Floor

# Plays the n-th mistake of its kind; what it plays with besides comes from the floor's random numbers.
Play = Callable[[Floor, int], None]
# What is done honestly before each of them; told once for all kinds that begin so.
Start = Callable[[Floor], None]


@dataclass(frozen=True, slots=True)
class Kind:
    name: str
    play: Play
    start: Start | None = None


class Kinds(list[Kind]):
    """Kinds of one part of the plant, in the order in which they are written."""

    def of(self, name: str, start: Start | None = None) -> Callable[[Play], Play]:
        """A decorator: this function plays mistakes of that name."""

        def keep(play: Play) -> Play:
            self.append(Kind(name, play, start))
            return play

        return keep


def loaded(f: Floor) -> None:
    """One mould is filled and closed."""
    f.load_whole()


def baked(f: Floor) -> None:
    """Its moulding can be taken out."""
    f.load_whole()
    f.bake(["T430-01"])


PAIR = ("T430-01", "T430-02")


def pair_loaded(f: Floor) -> None:
    """Two moulds on one arm."""
    for n, mould in enumerate(PAIR):
        f.load_whole(mould, arm="S1", n=n)


FIVE = (("T430-01", "S1"), ("T430-02", "S2"), ("T430-03", "S1"), ("T430-04", "S2"), ("T430-05", "S1"))


def five_loaded(f: Floor) -> None:
    """Loads for a whole shift."""
    for n, (mould, arm) in enumerate(FIVE):
        f.load_whole(mould, arm=arm, n=n % 3)


def filled(f: Floor) -> None:
    """All of a load is in its mould, which is open."""
    f.fill()


def two_loads_weighed(f: Floor) -> None:
    """The tubs of two loads stand side by side."""
    f.weigh_all(n=0)
    f.weigh_all(n=1)


def load_weighed(f: Floor) -> None:
    f.weigh_all()
