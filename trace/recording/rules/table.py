"""The rules of the plant as data: one row a rule. What a plant switches is recorded, never edited here."""

from functools import cache

from trace.recording.rules.engine import Rule
from trace.recording.rules.tables.anywhere import BASIC
from trace.recording.rules.tables.binding import BINDING
from trace.recording.rules.tables.complaints import COMPLAINTS
from trace.recording.rules.tables.containment import CONTAINMENT
from trace.recording.rules.tables.desk import DESK
from trace.recording.rules.tables.finishing import FINISHING
from trace.recording.rules.tables.gate import GATE
from trace.recording.rules.tables.goods_in import GOODS_IN
from trace.recording.rules.tables.impact import IMPACT
from trace.recording.rules.tables.instruments import INSTRUMENTS
from trace.recording.rules.tables.loading import LOADING
from trace.recording.rules.tables.mould_care import MOULD_CARE
from trace.recording.rules.tables.oven import OVEN
from trace.recording.rules.tables.owners import OWNERS
from trace.recording.rules.tables.people import PEOPLE
from trace.recording.rules.tables.recalls import RECALLS
from trace.recording.rules.tables.repairs import REPAIRS
from trace.recording.rules.tables.returns import RETURNS
from trace.recording.rules.tables.shift_end import SHIFT_END
from trace.recording.rules.tables.sources import SOURCES
from trace.recording.rules.tables.stock_counts import STOCK_COUNTS
from trace.recording.rules.tables.tubs import TUBS
from trace.recording.rules.tables.ways_out import WAYS_OUT
from trace.recording.rules.tables.weighing import WEIGHING

# By the part of the plant that they are about, each a file of tables/; asked in this order, and the first decides.
BY_STATION: dict[str, tuple[Rule, ...]] = {
    "every scan": BASIC, "people": PEOPLE, "goods in": GOODS_IN, "sources": SOURCES, "weighing": WEIGHING,
    "ways out": WAYS_OUT, "tubs": TUBS, "loading": LOADING, "mould care": MOULD_CARE, "oven": OVEN,
    "binding": BINDING, "finishing": FINISHING, "impact": IMPACT, "instruments": INSTRUMENTS, "gate": GATE,
    "returns": RETURNS, "repairs": REPAIRS, "containment": CONTAINMENT, "shift end": SHIFT_END,
    "stock counts": STOCK_COUNTS, "desk": DESK,
    "complaints": COMPLAINTS, "owners": OWNERS, "recalls": RECALLS,
}  # fmt: skip
TABLE: tuple[Rule, ...] = tuple(rule for rules in BY_STATION.values() for rule in rules)
BY_CODE = {rule.code: rule for rule in TABLE}


@cache
def rules_of(kind: str) -> tuple[Rule, ...]:
    """The rules that look at this kind of event; of "", those that look at all."""
    return tuple(rule for rule in TABLE if kind in rule.guards or "*" in rule.guards)
