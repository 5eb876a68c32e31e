"""Where a reading stands in what its event says, and what an event says once its readings are put right."""

from collections.abc import Iterable, Mapping
from typing import Any

# Kind of event -> quantity -> the field of its command. A zone's thickness, a certificate's value and a stage's
# temperature are named by the reading itself.
FIELDS = {
    "cook_started": {"arm speed": "arm_rpm", "plate speed": "plate_rpm", "oven set": "set_c"},
    "cook_ended": {"peak internal air": "piat"},
    "cooled": {"at demould": "demould_c"},
    "bound": {"as moulded": "mass"},
    "inspected": {"hull mass": "mass"},
    "check_weighed": {"check-weight": "shown"},
}
KINDS = (*FIELDS, "cook_stage", "certified")


def field_of(kind: str, row: Mapping[str, Any]) -> tuple[str, ...] | None:
    """The way to a reading in what its event says; None for one that is put right as an amount."""
    if kind == "inspected" and row["quantity"] == "thickness":
        return "thickness", str(row["zone"])
    if kind == "certified":
        return "values", str(row["quantity"])
    if kind == "cook_stage":
        return ("minutes" if row["quantity"] == "stopped" and row["uom"] == "min" else "temperature",)
    field = FIELDS.get(kind, {}).get(str(row["quantity"]))
    return None if field is None else (field,)


def righted(kind: str, says: Mapping[str, Any], rows: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """What an event of this kind says, with these readings of it as they were put right (value None: never read)."""
    found = dict(says)
    for row in rows:
        way = field_of(kind, row)
        if way is None:
            continue
        if len(way) == 1:
            found[way[0]] = row["value"] or ""
            continue
        values = {name: value for name, value in found[way[0]].items() if name != way[1]}
        found[way[0]] = values if row["value"] is None else {**values, way[1]: row["value"]}
    return found
