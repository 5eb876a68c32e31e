"""Work on a mould between loads, one press each; and the first-off after a refurbishment."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.recording.acts.mould_care import COAT, WORK_WORDS, CareForMould, PassFirstOff
from trace.recording.commands import Command
from trace.recording.floor.mould_life import Life, life
from trace.scan.page import Action, Field, Row
from trace.scan.sight import MOULDING, Home, Next, Sight, Slot, Station
from trace.scan.stations.load import CARE
from trace.scan.stations.parts import HOT, press


def life_here(sight: Sight) -> Life | None:
    """What was done to the mould scanned, until now."""
    found = sight.one("mould")
    if found is None or found.thing is None:
        return None
    if "life" not in sight.looked:
        sight.looked["life"] = life(found, sight.now)
    known: Life = sight.looked["life"]
    return known


def slots(sight: Sight) -> tuple[Slot, ...]:
    mould = Slot("mould", ("mould",), _("Scan the mould"), clears=("agent", "coat", "what"))
    return (mould, Slot("agent", ("container",), _("Scan the release agent"), optional=True))


def fields(sight: Sight) -> tuple[Field, ...]:
    here = life_here(sight)
    if here is None:
        return ()
    hint = _("left open: %(n)d") % {"n": here.coat_no + 1}
    return (
        Field("what", _("Which parts"), required=True, ask=_("Which parts were changed?")),
        Field("coat", _("Number of the coat"), "count", hint=hint),
    )


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("mould"):
        return ()
    coat = press(COAT, _("Release coat put on"), bare=False)
    if sight.text("agent"):
        return (coat,)
    return (
        press("service", _("Cleaned and serviced"), bare=False), press("vent", _("Vent changed"), bare=False), coat,
        press("parts", _("Parts changed"), "plain", needs=("what",), bare=False),
        press("refurbished", _("Back from refurbishment"), "plain", below=True, bare=False),
    )  # fmt: skip


def commands(sight: Sight) -> Sequence[Command] | None:
    if not sight.text("mould") or sight.do not in WORK_WORDS:
        return None
    return [
        CareForMould(
            mould=sight.text("mould"), done=(sight.do,), agent=sight.text("agent"),
            coat=sight.text("coat") if sight.do == COAT else "", what=sight.text("what"),
        )
    ]  # fmt: skip


def counts(sight: Sight) -> list[Row]:
    """Shots since each work that the mould's plant data ask for, beside how many there may be."""
    found = sight.one("mould")
    if found is None:
        return []
    state = found.mould or {}
    return [
        Row(_(WORK_WORDS[name]).capitalize(), _("%(n)s of %(limit)s shots since") % {
            "n": state.get(count, 0), "limit": found.body[limit],
        }, note=True)
        for name, limit, count in CARE if found.body.get(limit) is not None
    ]  # fmt: skip


def rows(sight: Sight) -> tuple[Row, ...]:
    here = life_here(sight)
    if here is None:
        return ()
    coat = here.coat or _("which lot is not recorded")
    worn = Row(_("Coat %(n)d") % {"n": here.coat_no}, coat, note=True) if here.coat_no else Row(
        _("Release coat"), _("none recorded"), note=True
    )  # fmt: skip
    due = [Row(_("First-off"), _("due: only trial cycles until one has passed"), note=True)] if here.first_off else []
    return (*counts(sight), worn, *due)


def next_(sight: Sight) -> Next | None:
    if not sight.text("mould"):
        return None
    if sight.text("agent"):
        return Next(_("Press release coat when it is on"), sight.key("mould"))
    return Next(_("What was done?"), _("For a coat, scan its release agent first."))


MOULD_CARE = Station(
    slug="mould-care",
    title=gettext_lazy("Mould care"),
    home=Home(MOULDING, 55, gettext_lazy("Service, vent, release coat and parts of a mould")),
    roles=("operator", "maintenance", "lead"),
    slots=slots,
    fields=fields,
    asks=lambda _sight: (),
    commands=commands,
    actions=actions,
    rows=rows,
    next=next_,
    place=lambda sight: sight.key("mould"),
    keeps=("mould",),
    caution=HOT,
    opens=lambda _sight, _found: False,  # a mould scanned at home is to be loaded, cooked or demoulded
    half_done=False,
)


# The first-off.


def first_off_slots(sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("mould", ("mould",), _("Scan the mould"), clears=("unit",)),
        Slot("unit", ("moulding", "part", "hull"), _("Scan the plate or the number of the first-off")),
    )


def first_off_commands(sight: Sight) -> Sequence[Command] | None:
    if not (sight.text("mould") and sight.text("unit")) or sight.do != "pass":
        return None
    return [PassFirstOff(mould=sight.text("mould"), unit=sight.text("unit"), reason=sight.text("seen"))]


def first_off_actions(sight: Sight) -> tuple[Action, ...]:
    whole = sight.text("mould") and sight.text("unit")
    return (press("pass", _("The first-off has passed"), bare=False),) if whole else ()


def first_off_next(sight: Sight) -> Next | None:
    if not (sight.text("mould") and sight.text("unit")):
        return None
    return Next(_("Is it good?"), _("If not, hold or scrap it; the mould stays on trial cycles."))


FIRST_OFF = Station(
    slug="first-off",
    title=gettext_lazy("First-off"),
    home=Home(MOULDING, 57, gettext_lazy("Pass the first moulding of a refurbished mould")),
    roles=("lead", "quality", "deputy"),
    slots=first_off_slots,
    fields=lambda sight: (Field("seen", _("What was looked at")),) if sight.text("unit") else (),
    commands=first_off_commands,
    actions=first_off_actions,
    rows=rows,
    next=first_off_next,
    place=lambda sight: sight.key("mould"),
    opens=lambda _sight, _found: False,
    half_done=False,
)
