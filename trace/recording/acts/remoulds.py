"""A hull is moulded anew in place of one that came back or failed: a link of the two, and the old one's end."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.genealogy.remoulds import ANEW, INSTEAD, linked_among
from trace.readmodels.rows import Rows
from trace.recording.acts.finishing import AWAY
from trace.recording.acts.hold_words import held_by
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.standing import Floor, UnitFacts

# Where an old hull is that ends by this; of one that was scrapped before only the link is told.
ENDED = "scrapped"


@dataclass(frozen=True, kw_only=True)
class Remould(Command):
    """hull: the new one, which has its own number; old: the one it stands for. The old one is scrapped by this, its
    plate destroyed, if that was not told before.

    It links the two as who stands for whom. No kilogram goes over by it: what of the old hull was ground and used
    again is told where it is ground.
    """

    KIND = "remoulded"
    NAME = noop("remould")

    hull: str = scanned("hull")
    old: str = scanned("hull")
    plate_destroyed: bool = False
    photo: str = ""
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("%(new)s moulded anew in place of %(old)s") % {
            "new": printed(e.says["hull"]), "old": printed(e.says["old"]),
        }  # fmt: skip


def _hull(floor: Floor, code: str) -> UnitFacts | None:
    return floor[code].hull or floor[code].unit


def _linked(new: UnitFacts | None, old: UnitFacts | None, names: tuple[str, str]) -> str:
    """Which of the two is linked already, in words; "" where neither is. names: of the new one, of the old one."""
    links = linked_among([one.id for one in (new, old) if one])
    if old and any(link.old == old.id for link in links):
        return f"{names[1]} has a hull in its place already"
    if new and any(link.new == new.id for link in links):
        return f"{names[0]} stands for another hull already"
    return ""


def _old_facts(old: UnitFacts | None, plate_destroyed: bool) -> Facts:
    """The old hull as it stands, and whether it ends by this."""
    ended = bool(old and old.status == ENDED)
    return {
        "gone": bool(old and old.status in AWAY and not ended),
        "status": (old.status if old else None) or "unknown",
        "plate_stays": not ended and not plate_destroyed,
        "held": bool(old and old.holds and not ended),
        "hold": held_by(old),
        "old_model": str(old.about.get("product")) if old else "unknown",
    }


def remould_facts(c: Remould, floor: Floor) -> Facts:
    new, old = _hull(floor, c.hull), _hull(floor, c.old)
    names = printed(floor[c.hull].code), printed(floor[c.old].code)
    linked = _linked(new, old, names)
    model = str(new.about.get("product")) if new else "unknown"
    return {
        "remould": {
            "hull": names[0],
            "old": names[1],
            "again": bool(linked),
            "again_which": linked,
            "model": model,
            **_beside(new, old),
            **_old_facts(old, c.plate_destroyed),
        }
    }


def _beside(new: UnitFacts | None, old: UnitFacts | None) -> Facts:
    """The two held against each other."""
    if new is None or old is None:
        return {"same": False, "younger": False, "other_model": False}
    same = new.uid == old.uid
    return {
        "same": same,
        "younger": not same and new.made <= old.made,
        "other_model": new.about.get("product") != old.about.get("product"),
    }


@handles(Remould, remould_facts)
def remould(c: Remould, floor: Floor, rows: Rows) -> str:
    new, old = _hull(floor, c.hull), _hull(floor, c.old)
    assert new is not None  # noqa: S101 - both codes were asked to be a hull's
    assert old is not None  # noqa: S101
    rows.touch(old.uid, INSTEAD)
    rows.touch(new.uid, ANEW)
    rows.photo(c.photo)
    # Told of one that is packed or gone, it is looked into: that hull stays where it is.
    if old.status not in AWAY and old.uid != new.uid:
        rows.status(old.uid, ENDED)
        rows.touch(old.uid, ENDED)
        if old.serial and c.plate_destroyed:
            rows.serial_stands(old.serial, "destroyed", old.uid)
    return f"{floor[c.hull].name} stands in place of {floor[c.old].name}"
