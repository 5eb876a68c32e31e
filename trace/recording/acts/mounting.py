"""Mould changeover: a mould is mounted on a position of an arm, or taken off."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, scanned
from trace.recording.floor.mould_life import MOUNTED, TAKEN_OFF, hanging, life_of
from trace.recording.floor.moulds import arm_facts, mould_facts
from trace.recording.floor.standing import Floor


@dataclass(frozen=True, kw_only=True)
class Mount(Command):
    """A mould is mounted on an arm. position: which of its places, "" where the arm has one only."""

    KIND = "mould_mounted"
    NAME = noop("mount a mould")

    mould: str = scanned("mould")
    arm: str = scanned("arm")
    position: str = ""

    @staticmethod
    def told(e: Told) -> str:
        if not e.says["position"]:
            return _("Mould %(mould)s mounted on arm %(arm)s") % e.says
        return _("Mould %(mould)s mounted on arm %(arm)s, position %(position)s") % e.says


def mount_facts(c: Mount, floor: Floor) -> Facts:
    mould, arm = floor[c.mould], floor[c.arm]
    facts, others = mould_facts(mould, floor), hanging(floor.happened)
    others.pop(mould.key, None)
    here = {position: key for key, (on, position) in others.items() if on == arm.key}
    position, room = c.position.strip(), arm.body.get("positions")
    return {
        "mould": facts,
        "arm": arm_facts(arm),
        "fit": {"arm": arm.key in facts["arms"]},
        "place": {
            "loaded": facts["stage"] != "empty" and not facts["later"],
            "position": position or "1",
            "taken": position in here,
            "by": here.get(position, ""),
            "full": room is not None and len(here) >= int(room),
            "room": str(room),
            "all": ", ".join(sorted(here.values())),
        },
    }


@handles(Mount, mount_facts)
def mount(c: Mount, floor: Floor, rows: Rows) -> str:
    mould, arm = floor[c.mould], floor[c.arm]
    rows.resource("mould", mould.key, "mould")
    rows.resource("mould", mould.key, MOUNTED)
    rows.resource("machine", arm.key, "arm")
    where = f", position {c.position.strip()}" if c.position.strip() else ""
    return f"{mould.key} mounted on {arm.key}{where}"


@dataclass(frozen=True, kw_only=True)
class TakeOff(Command):
    """A mould is taken off its arm."""

    KIND = "mould_taken_off"
    NAME = noop("take a mould off")

    mould: str = scanned("mould")

    @staticmethod
    def told(e: Told) -> str:
        return _("Mould %(mould)s taken off its arm") % e.says


def take_off_facts(c: TakeOff, floor: Floor) -> Facts:
    mould = floor[c.mould]
    facts, life = mould_facts(mould, floor), life_of(mould, floor)
    return {
        "mould": facts,
        "place": {
            "loaded": facts["stage"] != "empty" and not facts["later"],
            "off": life.off,
        },
    }


@handles(TakeOff, take_off_facts)
def take_off(c: TakeOff, floor: Floor, rows: Rows) -> str:
    mould = floor[c.mould]
    was = life_of(mould, floor).arm
    rows.resource("mould", mould.key, "mould")
    rows.resource("mould", mould.key, TAKEN_OFF)
    return f"{mould.key} taken off {was or 'its arm'}"
