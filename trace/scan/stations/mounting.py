"""Mould changeover: which mould was mounted on which arm, or taken off."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.recording.acts.mounting import Mount, TakeOff
from trace.recording.commands import Command
from trace.recording.floor.mould_life import hanging
from trace.scan.page import Action, Field, Row
from trace.scan.sight import MOULDING, Home, Next, Sight, Slot, Station
from trace.scan.stations.mould_care import life_here
from trace.scan.stations.parts import TURNING, press


def slots(sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("mould", ("mould",), _("Scan the mould"), clears=("arm", "position")),
        Slot("arm", ("arm",), _("Scan the arm it is on now"), _("Or press taken off."), clears=("position",)),
    )


def several(sight: Sight) -> bool:
    """Whether the arm has more than one position."""
    return int(sight.body("arm").get("positions") or 1) > 1


def fields(sight: Sight) -> tuple[Field, ...]:
    if not (sight.text("mould") and sight.text("arm") and several(sight)):
        return ()
    return (Field("position", _("Position"), required=True, ask=_("On which position of the arm?")),)


def actions(sight: Sight) -> tuple[Action, ...]:
    if sight.text("mould") and not sight.text("arm"):
        return (press("off", _("Taken off"), "plain", bare=False),)
    return ()


def commands(sight: Sight) -> Sequence[Command] | None:
    mould, arm = sight.text("mould"), sight.text("arm")
    if mould and sight.do == "off":
        return [TakeOff(mould=mould)]
    if not (mould and arm and (sight.text("position") or not several(sight))):
        return None
    return [Mount(mould=mould, arm=arm, position=sight.text("position"))]


def rows(sight: Sight) -> tuple[Row, ...]:
    """Where the mould hangs by the record, and what else hangs on the arm."""
    here, arm = life_here(sight), sight.key("arm")
    if here is None:
        return ()
    where = _("taken off") if here.off else _("nobody recorded it")
    if here.arm:
        where = _("on %(arm)s %(position)s") % {"arm": here.arm, "position": here.position}
    found = [Row(sight.key("mould"), where.strip(), note=True)]
    if arm:
        there = [f"{key} {at}".strip() for key, (on, at) in hanging(sight.now).items() if on == arm]
        found += [Row(_("On %(arm)s by the record") % {"arm": arm}, ", ".join(there) or _("nothing"), note=True)]
    return tuple(found)


def next_(sight: Sight) -> Next | None:
    if sight.text("mould") and sight.text("arm"):
        return Next(_("On which position of the arm?"), f"{sight.key('mould')} · {sight.key('arm')}")
    return None


MOUNT = Station(
    slug="mount",
    title=gettext_lazy("Mould changeover"),
    home=Home(MOULDING, 56, gettext_lazy("Mount a mould on its arm, or take it off")),
    roles=("operator", "maintenance", "lead"),
    slots=slots,
    fields=fields,
    commands=commands,
    actions=actions,
    rows=rows,
    next=next_,
    place=lambda sight: sight.key("mould"),
    caution=TURNING,
    opens=lambda _sight, _found: False,
    half_done=False,
)
