"""Products with their recipe and drawing, and the works orders that call for them."""

from plant.models.recorded import Recorded


class Product(Recorded):
    class Meta:
        db_table = "plant_product"


class WorksOrder(Recorded):
    class Meta:
        db_table = "plant_works_order"
