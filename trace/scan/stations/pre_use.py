"""The pre-use check of an oven or an arm at shift start, with its cold-start flag."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.recording.acts.pre_use import CHECKS, CheckMachine
from trace.recording.commands import Command
from trace.scan.page import Action, Field
from trace.scan.sight import MOULDING, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import TURNING, choice, press


def faults(sight: Sight) -> tuple[str, ...]:
    return tuple(name for name in CHECKS if sight.text(f"fault_{name}") == "yes")


def slots(_sight: Sight) -> tuple[Slot, ...]:
    clears = ("cold", *(f"fault_{name}" for name in CHECKS))
    return (Slot("machine", ("oven", "arm"), _("Scan the oven or arm"), clears=clears),)


def fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("machine"):
        return ()
    starts = [("no", _("Warm")), ("yes", _("Cold start"))]
    return (
        choice("cold", _("How it starts"), starts, ask=_("Is it warm, or does it start cold?")),
        *(Field(f"fault_{name}", _("Not in order: %(what)s") % {"what": _(words)}, "checkbox")
          for name, words in CHECKS.items()),
        Field("remark", _("Remark")),
    )  # fmt: skip


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("machine"):
        return ()
    return (
        press("good", _("Looked over: all in order"), needs=("cold",), bare=False),
        press("bad", _("Not in order, as ticked"), "stop", needs=("cold",), below=True, bare=False),
    )


def commands(sight: Sight) -> Sequence[Command] | None:
    if not sight.text("machine") or not sight.text("cold") or sight.do not in ("good", "bad"):
        return None
    found = faults(sight)
    # Ticked and pressed must say the same: what is not said is asked for by the rule.
    wrong = bool(found) != (sight.do == "bad")
    return [
        CheckMachine(
            machine=sight.text("machine"), faults=("?",) if wrong else found, cold=sight.text("cold") == "yes",
            remark=sight.text("remark"),
        )
    ]  # fmt: skip


PRE_USE = Station(
    slug="pre-use",
    title=gettext_lazy("Pre-use check"),
    home=Home(MOULDING, 5, gettext_lazy("Look an oven or arm over before its first cook of the shift")),
    roles=("operator", "maintenance", "lead"),
    slots=slots,
    fields=fields,
    asks=lambda _sight: (),
    commands=commands,
    actions=actions,
    next=lambda sight: Next(_("Look it over, then press"), sight.key("machine")) if sight.text("machine") else None,
    place=lambda sight: sight.key("machine"),
    caution=TURNING,
    opens=lambda _sight, _found: False,
    half_done=False,
)
