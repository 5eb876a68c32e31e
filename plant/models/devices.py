"""Tablets, phones and post screens that scans are made with."""

from plant.models.recorded import Recorded


class Device(Recorded):
    class Meta:
        db_table = "plant_device"
