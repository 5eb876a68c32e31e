"""A stop of an arm, an oven or the whole plant: one entry marks every cook that is open, and holds what is in it."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.lookup import OpenCook
from trace.recording.acts.cook import CookStage
from trace.recording.commands import Command
from trace.scan.page import Action, Field, Row
from trace.scan.sight import MADE, MOULDING, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import TURNING, press


def slots(sight: Sight) -> tuple[Slot, ...]:
    detail = _("Or press below, if the whole plant stands still.")
    return (Slot("machine", ("arm", "oven"), _("Scan the arm or oven that stopped"), detail),)


def standing(sight: Sight) -> list[OpenCook]:
    """What cooks or cools now on the arm, in the oven or in the whole plant."""
    if "cooks" not in sight.looked:
        sight.looked["cooks"] = lookup.open_cooks()
    every: list[OpenCook] = sight.looked["cooks"]
    machine = sight.key("machine")
    return [one for one in every if machine in ("", one.arm, one.oven)]


def fields(sight: Sight) -> tuple[Field, ...]:
    hint = _("Left open, the length is missing: record the stop again with it when all runs.")
    return (Field("minutes", _("Stopped for"), "count", unit="min", hint=hint),)


def actions(sight: Sight) -> tuple[Action, ...]:
    if not standing(sight):
        return ()
    words = _("Stopped: %(machine)s") % {"machine": sight.key("machine")}
    if not sight.text("machine"):
        words = _("Stopped: the whole plant")
    return (press("stopped", words, "stop", bare=False),)


def commands(sight: Sight) -> Sequence[Command] | None:
    if sight.do != "stopped":
        return None
    minutes = sight.text("minutes")
    return [CookStage(mould=one.code, stage="stopped", minutes=minutes) for one in standing(sight)] or None


def rows(sight: Sight) -> tuple[Row, ...]:
    words = {"in oven": _("in the oven"), "cooling": _("cooling")}
    return tuple(
        Row(
            one.name,
            ", ".join((one.arm, words.get(one.stage, one.stage), _("cycle %(n)s") % {"n": one.cycle})),
            note=True,
        )
        for one in standing(sight)
    )


def next_(sight: Sight) -> Next | None:
    if not standing(sight):
        where = sight.key("machine") or _("the plant")
        return Next(_("Nothing cooks or cools in %(where)s") % {"where": where}, "", "scan")
    if not sight.text("machine"):
        return None
    return Next(_("Press stopped: what is in it is held"), sight.key("machine"))


STOPPED = Station(
    slug="stop",
    title=gettext_lazy("Stopped"),
    home=Home(MOULDING, 45, gettext_lazy("A power cut, a jam: mark every open cook at once")),
    roles=("operator", "lead"),
    slots=slots,
    fields=fields,
    asks=lambda _sight: (),
    commands=commands,
    actions=actions,
    rows=rows,
    next=next_,
    place=lambda sight: sight.key("machine"),
    caution=TURNING,
    opens=lambda _sight, _found: False,  # an arm or oven scanned at home goes on with its cook
    half_done=False,
    stops=MADE,
)
