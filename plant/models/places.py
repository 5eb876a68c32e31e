"""Docks, bays, racks, stations and trucks."""

from plant.models.recorded import Recorded


class Place(Recorded):
    class Meta:
        db_table = "plant_place"


class Setting(Recorded):
    """A rule switched to refuse, warn or off, and the plant's other choices."""

    class Meta:
        db_table = "plant_setting"
