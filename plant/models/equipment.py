"""Moulds, machines (ovens and their arms) and instruments."""

from plant.models.recorded import Recorded


class Mould(Recorded):
    class Meta:
        db_table = "plant_mould"


class Machine(Recorded):
    class Meta:
        db_table = "plant_machine"


class Instrument(Recorded):
    class Meta:
        db_table = "plant_instrument"
