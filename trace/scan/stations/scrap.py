"""Scrapping powder, parts or graphics of a container, what is in a tub, or what was swept up at a place."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.recording.acts.scrapping import CAUSES, ScrapStock
from trace.recording.acts.sweeping import RULE, SweepUp
from trace.recording.commands import Command
from trace.scan.page import Action, Field
from trace.scan.sight import MATERIALS, STORES, Early, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import DUSTY, press, why
from trace.scan.stations.vessels import HOLDING, rows, unit_word
from trace.scan.stations.weigh import SCALE_RULES

BOX_RULES = ("SOURCE-EMPTY", "SOURCE-USED-UP", "SCRAP-HELD")
RULES = (*BOX_RULES, *SCALE_RULES)


def slots(sight: Sight) -> tuple[Slot, ...]:
    where = Slot("where", ("place", "machine"), _("Scan where it was swept up"), clears=("amount",), optional=True)
    if sight.text("where"):
        return (
            where,
            # Asked by nobody: who scans one is told that sweepings never go back.
            Slot("into", HOLDING, _("Scan nothing more"), optional=True),
            Slot("scale", ("scale",), _("Scan the scale"), optional=True),
        )
    return (
        Slot("box", HOLDING, _("Scan what it is scrapped of, or where it was swept up"), clears=("amount",)),
        where,
        Slot("scale", ("scale",), _("Scan the scale"), optional=True),
    )


def fields(sight: Sight) -> tuple[Field, ...]:
    if sight.text("where"):
        return (
            Field("amount", _("How much"), "weight", unit="kg", hint=_("as the scale shows it, without the bin"),
                  ask=_("How much was swept up?"), required=True),
            Field("remark", _("Remark")),
        )  # fmt: skip
    if not sight.text("box"):
        return ()
    unit = unit_word(sight, "box")
    hint = _("as the scale shows it, without the container") if unit == "kg" else ""
    reasons = [(value, _(words)) for value, words in CAUSES.items()]
    return (
        why(reasons, ask=_("Why is it scrapped?")),
        Field("amount", _("How much"), "weight", unit=unit, hint=hint, ask=_("How much is scrapped?"), required=True),
    )


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("box"):
        return ()
    return (press("all", _("All that is left in it, by the book"), "stop", needs=("why",), bare=False),)


def scrap(sight: Sight) -> ScrapStock:
    return ScrapStock(
        box=sight.text("box"), amount="" if sight.do == "all" else sight.text("amount"),
        everything=sight.do == "all", scale=sight.text("scale"), cause=sight.text("why"),
        reason=sight.text("why_words"),
    )  # fmt: skip


def swept(sight: Sight) -> SweepUp:
    return SweepUp(
        where=sight.text("where"), amount=sight.text("amount"), scale=sight.text("scale"), into=sight.text("into"),
        remark=sight.text("remark"),
    )  # fmt: skip


def commands(sight: Sight) -> Sequence[Command] | None:
    if sight.text("where"):
        return [swept(sight)] if sight.text("amount") else None
    ready = sight.text("box") and sight.text("why") and (sight.do == "all" or sight.text("amount"))
    return [scrap(sight)] if ready else None


def early(sight: Sight) -> Early | None:
    if sight.text("where"):
        return (swept(sight), (RULE,)) if sight.text("into") else None
    return (scrap(sight), RULES) if sight.text("box") else None


def next_(sight: Sight) -> Next | None:
    if sight.text("where"):
        return Next(_("How much was swept up? It goes into the scrap bin."))
    return Next(_("Why, and how much?")) if sight.text("box") else None


SCRAP = Station(
    slug="scrap",
    title=gettext_lazy("Scrap"),
    home=Home(STORES, 62, gettext_lazy("Powder, parts or a weighed tub that nobody will use; what was swept up")),
    roles=("operator", "stores", "lead", "quality", "deputy"),
    slots=slots,
    fields=fields,
    commands=commands,
    early=early,
    blames=dict.fromkeys(BOX_RULES, "box") | dict.fromkeys(SCALE_RULES, "scale"),
    actions=actions,
    rows=rows,
    next=next_,
    opens=lambda _sight, _found: False,  # who scraps something looks for the station, not for a container
    caution=DUSTY,
    stops=MATERIALS,
)
