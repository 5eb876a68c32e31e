"""Materials (powders, foaming grades, inserts, graphics, pigments) and who supplies them."""

from plant.models.recorded import Recorded


class Material(Recorded):
    class Meta:
        db_table = "plant_material"


class Supplier(Recorded):
    class Meta:
        db_table = "plant_supplier"
