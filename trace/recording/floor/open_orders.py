"""Sales orders of which something is still to be packed, and how many hulls stand ready for them."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trace.genealogy.live import LIVE_NOW
from trace.genealogy.made_as import MADE_AS
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.plantdata import Directory, Thing

Model = tuple[str, str]  # product and colour
MOST_LOOKED_AT = 500  # of a plant that never ends its orders the newest are looked through
# As the rule about too many counts it: whatever is in a pack of the order, also where that has gone.
PACKED = f"""
SELECT r.key, u.about->>'product', {MADE_AS}->>'colour', count(*)
  FROM resource r JOIN event_resource x ON x.resource = r.id AND x.role = 'order'
  JOIN event v ON v.id = x.event AND v.kind = 'packed'
  JOIN edge e ON e.event = v.id AND e.role = 'pack' JOIN unit u ON u.id = e.parent
 WHERE r.kind = 'sales_order' AND r.key = ANY (%(orders)s::text[]) AND {LIVE_NOW} GROUP BY 1, 2, 3
"""
READY = f"""
SELECT u.about->>'product', {MADE_AS}->>'colour', count(*)
  FROM unit_state s JOIN unit u ON u.id = s.unit AND u.kind = 'hull'
 WHERE s.status IN ('released', 'made before records') AND COALESCE(u.about->>'purpose', 'production') = 'production'
   AND NOT EXISTS (SELECT FROM unit_hold h WHERE h.unit = u.id) GROUP BY 1, 2
"""


@dataclass(frozen=True, slots=True)
class Owed:
    """What an order still wants of one model and colour, and how many such hulls are free: passed, in no pack, on no
    hold. They are free for every order alike."""

    product: str
    colour: str
    owed: int
    ready: int


@dataclass(frozen=True, slots=True)
class OpenOrder:
    """An order (its key), the key of its consignee, and what it still wants."""

    key: str
    consignee: str
    owed: tuple[Owed, ...]


def open_orders(plant: Directory) -> tuple[list[OpenOrder], bool]:
    """The orders that want something, the oldest first; and whether older ones were not looked through."""
    every = sorted((t for t in plant.of_kind("sales_order") if not t.ended), key=lambda t: t.resource)
    looked = every[-MOST_LOOKED_AT:]
    packed = {(key, (product, colour)): n for key, product, colour, n in _packed([t.key for t in looked])}
    wants = [(t, _still_wanted(t, packed)) for t in looked]
    opened = [(t, wanted) for t, wanted in wants if wanted]
    ready = {(product, colour): n for product, colour, n in fetch_rows(READY, {})} if opened else {}
    return [_order(t, wanted, ready) for t, wanted in opened], len(every) > len(looked)


def _still_wanted(order: Thing, packed: Mapping[tuple[str, Model], int]) -> dict[Model, int]:
    """How many of each model and colour are not packed yet; {} when all are."""
    wished = _wished(order.body.get("lines", []))
    left = {model: n - packed.get((order.key, model), 0) for model, n in wished.items()}
    return {model: n for model, n in left.items() if n > 0}


def _order(order: Thing, wanted: Mapping[Model, int], ready: Mapping[Model, int]) -> OpenOrder:
    owed = tuple(Owed(*model, n, ready.get(model, 0)) for model, n in wanted.items())
    return OpenOrder(order.key, str(order.body.get("consignee") or ""), owed)


def _wished(lines: Iterable[dict[str, str]]) -> Counter[Model]:
    """How many of each model and colour; two lines for the same are one wish."""
    wishes: Counter[Model] = Counter()
    for line in lines:
        wishes[line["product"], line["colour"]] += int(line["quantity"])
    return wishes


def _packed(orders: list[str]) -> list[tuple[str, str, str, int]]:
    return fetch_rows(PACKED, {"orders": orders}) if orders else []
