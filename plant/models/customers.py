"""Consignees (dealers, rescue services) and what they ordered."""

from plant.models.recorded import Recorded


class Consignee(Recorded):
    class Meta:
        db_table = "plant_consignee"


class SalesOrder(Recorded):
    class Meta:
        db_table = "plant_sales_order"
