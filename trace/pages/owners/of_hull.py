"""The owners of one hull, as its sheet shows them."""

from plant.sign_on import SignedOn
from trace.genealogy.owners import owners
from trace.recording.acts.owners import RegisterOwner
from trace.sheets.hulls.gathered import Gathered
from trace.sheets.owners.told import OwnerLine, owner_lines


def owners_of(gathered: Gathered, person: SignedOn | None) -> tuple[OwnerLine, ...]:
    """Those registered by the moment of its sheet; nothing is asked where its history names none."""
    if not any(entry.kind == RegisterOwner.KIND for entry in gathered.entries):
        return ()
    told = owners([gathered.hull.id], gathered.asked).get(gathered.hull.id, ())
    return owner_lines(told, person.roles if person else ())
