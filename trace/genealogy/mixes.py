"""What a mix of materials is called, and which materials are in what a record says something is."""

from collections.abc import Iterable, Mapping
from typing import Any


def materials_of(about: Mapping[str, Any]) -> list[str]:
    """The materials of a unit, in the order of their names: several of a mix, none where no record says."""
    several = about.get("materials")
    if several:
        return sorted(str(m) for m in several)
    return [str(about["material"])] if about.get("material") else []


def said_of(materials: Iterable[str]) -> dict[str, Any]:
    """What `about` says of something made of these: one by its name, a mix by the names of all that is in it."""
    names = sorted(set(materials))
    return {"material": " and ".join(names) or None, **({"materials": names} if len(names) > 1 else {})}
