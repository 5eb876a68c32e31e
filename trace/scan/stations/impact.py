"""The cold impact test at the tower: one drop after another, each a press, then the end of the staircase."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.genealogy.impact import Drop, open_drops
from trace.recording.acts.complaint_words import word
from trace.recording.acts.impact import DARTS, RESULTS, SPECIMEN, DropDart, EndImpact, wanted_height
from trace.recording.commands import Command
from trace.scan.page import Action, Field, Row
from trace.scan.sight import FINISHING, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import choice, press
from trace.speech import names_of

CAUTION = gettext_lazy(
    "Cold specimens and a falling dart: face shield, gloves, hearing protection; no hand in the guard while it is up."
)


def slots(_sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("unit", SPECIMEN, _("Scan the plate or number that the specimen was cut from"), clears=("height", "cold")),
    )


def plan(sight: Sight) -> dict[str, str]:
    found = sight.one("unit")
    about = found.unit.about if found and found.unit else {}
    return dict(sight.plant.body("product", about.get("product")).get("impact") or {})


def drops(sight: Sight) -> list[Drop]:
    """The drops of the open test on what was scanned."""
    found = sight.one("unit")
    if found is None or found.unit is None:
        return []
    if "drops" not in sight.looked:
        sight.looked["drops"] = open_drops(found.unit.id)
    told: list[Drop] = sight.looked["drops"]
    return told


def fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("unit"):
        return ()
    asked = plan(sight)
    within = _("%(c)s asked, within %(within)s") % {
        "c": asked.get("below_zero_c", "?"), "within": asked.get("within_c", "3"),
    }  # fmt: skip
    wanted = wanted_height(drops(sight), asked)
    return (
        Field("height", _("Height of the drop"), "weight", unit="m", required=True, step=asked.get("step_m", ""),
              hint=_("%(m)s comes next") % {"m": f"{wanted:f}"} if wanted is not None else "",
              ask=_("From how high is the dart dropped?")),
        Field("cold", _("Specimen, below 0 °C"), "weight", unit="°C", required=True, hint=within,
              ask=_("How far below 0 °C is the specimen?")),
        choice("dart", _("Dart"), [(dart, dart) for dart in DARTS], required=False,
               value=sight.text("dart") or asked.get("dart", DARTS[0])),
    )  # fmt: skip


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("unit"):
        return ()
    return (
        # None of them is what a bare Enter does.
        press("pass", _("It did not fail"), "main", bare=False),
        press("ductile", _("Failed, ductile"), "plain", bare=False),
        press("brittle", _("Failed, brittle"), "plain", bare=False),
        press("end", _("The test is over"), "plain", below=True, bare=False),
    )  # fmt: skip


def commands(sight: Sight) -> Sequence[Command] | None:
    if not sight.text("unit"):
        return None
    if sight.do == "end":
        return [EndImpact(unit=sight.text("unit"))]
    if sight.do not in RESULTS or not sight.text("height") or not sight.text("cold"):
        return None
    return [
        DropDart(
            unit=sight.text("unit"), height=sight.text("height"), result=sight.do, temperature=f"-{sight.text('cold')}",
            dart=sight.text("dart") or plan(sight).get("dart", DARTS[0]),
        )
    ]  # fmt: skip


def rows(sight: Sight) -> tuple[Row, ...]:
    told = drops(sight)
    names = names_of({drop.person for drop in told})
    return tuple(
        Row(f"{drop.height} m", word(RESULTS, drop.result), True, names.get(drop.person, ""), drop.happened)
        for drop in reversed(told)
    )


def next_(sight: Sight) -> Next | None:
    found = sight.one("unit")
    if found is None or found.unit is None:
        return None
    about = found.unit.about
    which = f"{found.name}, {about.get('product', '')} {about.get('colour', '')}".strip()
    return Next(_("Drop the dart, then press what it did"), which)


IMPACT = Station(
    slug="impact",
    title=gettext_lazy("Impact test"),
    home=Home(FINISHING, 25, gettext_lazy("Drop the dart on cold specimens, step by step")),
    roles=("lead", "quality", "deputy"),
    slots=slots,
    fields=fields,
    thing="unit",
    actions=actions,
    commands=commands,
    keeps=("unit", "cold", "dart"),
    opens=lambda _sight, _found: False,
    rows=rows,
    next=next_,
    caution=CAUTION,
)
