"""Taking a retained sample out of a container, and saying what became of one."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.recording.acts.sampling import EndSample, TakeSample
from trace.recording.commands import Command
from trace.scan.page import Action, Field, Row
from trace.scan.sight import STORES, Early, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import DUSTY, press
from trace.scan.stations.vessels import HOLDING, unit_word
from trace.scan.stations.vessels import rows as inside

RULES = ("SOURCE-EMPTY", "SOURCE-USED-UP", "GIVEN-BACK")


def slots(sight: Sight) -> tuple[Slot, ...]:
    sample = Slot("sample", ("sample",), _("Scan the sample"), optional=not sight.text("sample"))
    if sight.text("sample"):
        return (sample,)
    return (
        Slot("box", HOLDING, _("Scan what it is of"), _("Or a sample that is kept no longer."), clears=("amount",)),
        Slot("place", ("place",), _("Scan its shelf"), optional=True),
        sample,
    )


def fields(sight: Sight) -> tuple[Field, ...]:
    if sight.text("sample"):
        return (Field("known", _("Which test, or why")),)
    if not sight.text("box"):
        return ()
    unit = unit_word(sight, "box")
    return (
        Field("amount", _("How much"), "weight", unit=unit, required=True, ask=_("How much is kept?")),
        Field("discard", _("Keep until"), "date", hint=_("empty: as long as the plant keeps samples")),
    )


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("sample"):
        return ()
    return (
        press("used", _("Used up in a test"), bare=False), press("discarded", _("Thrown away"), "stop", bare=False),
    )  # fmt: skip


def taking(sight: Sight) -> TakeSample:
    return TakeSample(
        box=sight.text("box"), amount=sight.text("amount"), place=sight.text("place"), discard=sight.text("discard")
    )


def commands(sight: Sight) -> Sequence[Command] | None:
    if sight.text("sample"):
        if sight.do not in ("used", "discarded"):
            return None
        return [EndSample(sample=sight.text("sample"), how=sight.do, reason=sight.text("known"))]
    return [taking(sight)] if sight.text("box") and sight.text("amount") else None


def early(sight: Sight) -> Early | None:
    return (taking(sight), RULES) if sight.text("box") and not sight.text("sample") else None


def rows(sight: Sight) -> tuple[Row, ...]:
    found = sight.one("sample")
    if found is None or found.unit is None:
        return inside(sight)
    about = found.unit.about
    said = [f"{about.get('material', '')} {found.unit.lot_no or ''}".strip(), found.unit.status or ""]
    until = _("keep until %(day)s") % {"day": about.get("discard", "?")}
    return (Row(_("Sample %(code)s") % {"code": found.name}, ", ".join((*filter(None, said), until)), note=True),)


def says(sight: Sight) -> Next | None:
    if sight.text("sample"):
        return Next(_("What became of it?"))
    return Next(_("How much is kept?")) if sight.text("box") else None


SAMPLE = Station(
    slug="sample",
    title=gettext_lazy("Sample"),
    home=Home(STORES, 64, gettext_lazy("Keep some of a lot; say what became of it")),
    roles=("stores", "lead", "quality", "deputy"),
    slots=slots,
    fields=fields,
    commands=commands,
    early=early,
    actions=actions,
    rows=rows,
    next=says,
    keeps=("place",),
    opens=lambda _sight, found: "sample" in found.kinds,  # who takes one looks for the station, not for a container
    caution=DUSTY,
    labels="a4",
)
