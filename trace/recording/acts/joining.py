"""Whether hulls join a scope that is on hold: judged when a plate is bound, when they are packed and when they are
loaded, by what is on record behind them.
"""

from collections.abc import Mapping, Sequence

from trace.recording.floor.behind_hull import Behind, Judge, read_behind
from trace.recording.floor.scopes_on_hold import LiveScope, live_scopes, rule_of
from trace.recording.floor.standing import Floor, UnitFacts


def joins_bound(mouldings: Sequence[UnitFacts], floor: Floor) -> list[LiveScope]:
    """The scopes on hold that a hull made of these mouldings shares, or may."""
    scopes = live_scopes()
    if not scopes or not mouldings:
        return []
    made = [unit.made for unit in mouldings]
    behind = Behind(mouldings[0].about, min(made), max(made), joined=len(mouldings) > 1)
    read_behind({0: (behind, [unit.id for unit in mouldings])})
    behind.deeds.setdefault(("person", floor.by.person), {})["person"] = True
    return [scope for scope in scopes if _judge(scope, floor).verdict(scope.cause, behind) != "cannot"]


def shared_sentence(joined: Mapping[str, LiveScope]) -> str:
    """Why hulls that joined a scope on hold are stopped, as the end of a rule's sentence; "" where none did."""
    scope = next(iter(joined.values()), None)
    return f"It shares scope {scope.number} ({' '.join(scope.words)}), which is on hold, or may" if scope else ""


def joins(hulls: Mapping[str, Behind], floor: Floor, newest: int) -> dict[str, LiveScope]:
    """By uid, of the hulls that were never under it, the first scope on hold that each shares, or may. `newest` is the
    newest record of a hold on a scope."""
    found: dict[str, LiveScope] = {}
    for uid, behind in hulls.items():
        for scope in live_scopes(newest):
            known = rule_of(scope.number) in behind.rules or uid in found
            if not known and _judge(scope, floor).verdict(scope.cause, behind) != "cannot":
                found[uid] = scope
    return found


def _judge(scope: LiveScope, floor: Floor) -> Judge:
    def has_value(material: str, name: str) -> bool:
        return name in floor.plant.body("material", material).get("spec", {})

    return Judge(scope.roots, floor.plant.calendar, has_value)
