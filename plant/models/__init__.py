"""The plant's current tables, by family."""

from plant.models.begun import Begun
from plant.models.customers import Consignee, SalesOrder
from plant.models.devices import Device
from plant.models.equipment import Instrument, Machine, Mould
from plant.models.materials import Material, Supplier
from plant.models.people import Account, Person, WrongPin
from plant.models.places import Place, Setting
from plant.models.products import Product, WorksOrder
from plant.models.recorded import Recorded

__all__ = [
    "Account", "Begun", "Consignee", "Device", "Instrument", "Machine", "Material", "Mould", "Person", "Place",
    "Product", "Recorded", "SalesOrder", "Setting", "Supplier", "WorksOrder", "WrongPin",
]  # fmt: skip
