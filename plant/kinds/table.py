"""All kinds of plant data. To add one: a Kind in its file, a row here, its model in plant/models with a migration."""

from plant.kinds.equipment import DEVICE, INSTRUMENT, MACHINE, MOULD, PLACE
from plant.kinds.kind import Kind
from plant.kinds.orders import SALES_ORDER, WORKS_ORDER
from plant.kinds.people import CONSIGNEE, PERSON, SUPPLIER
from plant.kinds.recipes import MATERIAL, PRODUCT
from plant.kinds.settings import SETTING

# In the order of menus and lists.
KINDS: tuple[Kind, ...] = (
    WORKS_ORDER, SALES_ORDER, PRODUCT, MATERIAL, SUPPLIER, MOULD, MACHINE, INSTRUMENT, PLACE, PERSON, CONSIGNEE,
    DEVICE, SETTING,
)  # fmt: skip
BY_NAME = {kind.name: kind for kind in KINDS}
NAMED = tuple(kind.name for kind in KINDS if kind.named)
LABELLED = tuple(kind.name for kind in KINDS if kind.labelled)
PLANT_TABLES = {kind.name: kind.table for kind in KINDS}
