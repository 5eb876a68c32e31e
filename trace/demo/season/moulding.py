"""One cook from the first charge to the plates: what a shift does with an arm and the moulds on it."""

from trace.demo.season.baking import bake
from trace.demo.season.finishing import take_out
from trace.demo.season.loading import load
from trace.demo.season.plant import MOULDS, PRODUCTS
from trace.demo.season.schedule import Cook
from trace.demo.season.script import FROM_PAPER, Work
from trace.demo.season.truth import Made
from trace.demo.season.weighing import weigh
from trace.demo.season.writer import Writer
from trace.recording.acts.cook import AbortCook


def cook(w: Writer, c: Cook) -> Work:
    """Waits until arm and moulds are free, then goes on until the hulls stand on the floor."""
    while w.busy & {c.arm, *c.moulds}:
        yield 9.0
    w.busy |= {c.arm, *c.moulds}
    made = {mould: _mouldings(w, c, mould) for mould in c.moulds}
    loader = w.loader()
    for mould in c.moulds:
        tubs = []
        for layer in PRODUCTS[c.product]["layers"]:
            tub = yield from weigh(w, c, layer["name"], made[mould])
            tubs.append(tub)
        yield from load(w, c, mould, tubs, made[mould], loader)
    if w.odd.get(c.number) == "given up":
        _give_up(w, c, made)
    else:
        yield from bake(w, c, made, w.loader())
        person = w.loader()
        for mould in c.moulds:
            yield from take_out(w, c, mould, made[mould], person)
    w.busy -= {c.arm, *c.moulds}


def _mouldings(w: Writer, c: Cook, mould: str) -> list[Made]:
    cavities = MOULDS[mould].get("cavities", ["1"])
    shift = w.year.shift_at(w.now)
    found = [
        Made(c.product, c.colour, c.order, mould, cavity, c.arm, c.oven, shift, w.day, c.number, c.purpose)
        for cavity in cavities
    ]
    w.truth.mouldings += found
    if w.script.on_paper:
        # Whatever is flagged when it is told, quality looks at it before it goes on.
        w.held |= {id(one): {FROM_PAPER} for one in found}
    return found


def _give_up(w: Writer, c: Cook, made: dict[str, list[Made]]) -> None:
    """A jam before the oven: what is in the mould is dug out and scrapped."""
    for mould in c.moulds:
        w.script.scan(AbortCook(mould=mould), w.lead(), "oven")
        for one in made[mould]:
            one.fate = "given up before its cook"
            one.oddities.append("given up")
