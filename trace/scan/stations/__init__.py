"""All stations by their slug, the last part of their address, in the order material goes through the plant.

A station is found by being there: every `Station` that a module of this folder holds.
"""

from importlib import import_module
from pkgutil import iter_modules

from plant.stations import GROUPS, StationEntry, declare
from trace.scan.sight import Station


def _found() -> list[Station]:
    modules = [import_module(f"{__name__}.{module.name}") for module in iter_modules(__path__)]
    stations = [thing for module in modules for thing in vars(module).values() if isinstance(thing, Station)]
    return sorted(stations, key=lambda s: (GROUPS.index(s.home.group), s.home.at))


STATIONS: dict[str, Station] = {station.slug: station for station in _found()}
declare(StationEntry(s.slug, s.title, s.home.group, s.home.line, s.roles, s.readers) for s in STATIONS.values())
