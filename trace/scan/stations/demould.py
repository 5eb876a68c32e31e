"""Demould and bind: the mould is opened, then each plate is bound to the moulding just out of it; and cutting."""

from collections.abc import Sequence
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.codes import uuid7_time_ms
from trace.recording.acts.demould import Bind, Cut, Demould
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor.standing import UnitFacts
from trace.scan.page import Field, Row, Verdict
from trace.scan.sight import FINISHING, MADE, MOULDING, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HOT, choice
from trace.scan.verdict import plain_refusal

# The two scans of a binding belong together: after this the mould is asked for again.
TOGETHER_MS = 10 * 60 * 1000


def stage(sight: Sight) -> str:
    found = sight.one("mould")
    return str((found.mould or {}).get("stage", "empty")) if found else ""


def waiting(sight: Sight) -> tuple[UnitFacts, ...]:
    """Mouldings out of this mould that have no plate yet, oldest first."""
    found = sight.one("mould")
    return found.waiting if found else ()


def cavity(sight: Sight) -> str:
    """The cavity the next plate is for: as chosen, else the first that waits."""
    cavities = [str(unit.about.get("cavity", "1")) for unit in waiting(sight)]
    chosen = sight.text("cavity")
    return chosen if chosen in cavities else (cavities or [""])[0]


def stale(sight: Sight) -> bool:
    """Whether the form with the mould is so old that the mould may be another one by now."""
    try:
        age = sight.now.timestamp() * 1000 - uuid7_time_ms(UUID(sight.scan_id))
    except ValueError:
        return False
    return age > TOGETHER_MS


def slots(sight: Sight) -> tuple[Slot, ...]:
    clears = ("plate", "cavity", "mouldings", "purpose")
    mould = Slot("mould", ("mould",), _("Scan the mould on the arm"), clears=clears)
    named = Slot("mouldings", ("moulding", "part"), _("Scan the moulding"), many=True, optional=True)
    plate = Slot(
        "plate", ("plate", "hull"), _("Scan the plate"), optional=not (waiting(sight) or sight.text("mouldings"))
    )
    if sight.text("mouldings") and not sight.text("mould"):
        return (named, plate, Slot("mould", ("mould",), mould.ask, optional=True))
    return (mould, named, plate)


def commands(sight: Sight) -> Sequence[Command] | None:
    mould, plate = sight.text("mould"), sight.text("plate")
    if plate and (mould or sight.text("mouldings")):
        return [
            Bind(
                mould=mould, mouldings=sight.codes("mouldings"), plate=plate,
                cavity=cavity(sight) if len(waiting(sight)) > 1 else "", mass=sight.text("mass"),
            )
        ]  # fmt: skip
    if mould and not plate and (stage(sight) == "to demould" or not waiting(sight)):
        return [Demould(mould=mould)]
    return None


def objection(sight: Sight) -> str | Verdict:
    if sight.text("plate") and sight.text("purpose") and not waiting(sight):
        words = {"mould": sight.key("mould"), "purpose": sight.text("purpose")}
        return plain_refusal(
            _("What came out of %(mould)s gets no plate.") % words,
            _("It is of a %(purpose)s order; only production is numbered.") % words,
            _("Put the plate back; scan the next mould."),
        )
    if sight.text("plate") and sight.text("mould") and stale(sight):
        return _("Scan the mould again, then the plate: its scan is more than ten minutes old.")
    return ""


def fields(sight: Sight) -> tuple[Field, ...]:
    if not waiting(sight) and not sight.text("mouldings"):
        return ()
    found = []
    cavities = [str(unit.about.get("cavity", "1")) for unit in waiting(sight)]
    if len(cavities) > 1:
        found.append(choice("cavity", _("Cavity"), [(c, c) for c in cavities], value=cavity(sight)))
    return (*found, Field("mass", _("As moulded"), "weight", unit="kg"))


def next_(sight: Sight) -> Next | None:
    units = waiting(sight)
    if units and not sight.text("mouldings") and len({str(u.about.get("cavity", "1")) for u in units}) < len(units):
        numbers = ", ".join(str(unit.lot_no) for unit in units)
        return Next(_("Scan or type the moulding's number, then its plate"), _("Waiting: %(all)s") % {"all": numbers})
    if units:
        words = {"cavity": cavity(sight), "mould": sight.key("mould")}
        ask = (
            _("Scan the plate for cavity %(cavity)s of %(mould)s")
            if len(units) > 1
            else _("Scan the plate for the moulding of %(mould)s")
        )
        unit = next((u for u in units if str(u.about.get("cavity", "1")) == cavity(sight)), units[0])
        return Next(
            ask % words,
            _("Moulding %(number)s. Fix the plate before you scan the next mould.") % {"number": unit.lot_no},
        )
    if sight.text("mould") and stage(sight) == "empty":
        words = {"mould": sight.key("mould"), "purpose": sight.text("purpose")}
        why = _("Nothing out of %(mould)s waits for a plate.")
        if words["purpose"]:
            why = _("%(mould)s made a %(purpose)s moulding: it gets no plate.")
        return Next(_("Scan the next mould"), why % words, "scan")
    return None


def rows(sight: Sight) -> tuple[Row, ...]:
    units = waiting(sight)
    if not units:
        return ()
    product = str(units[0].about.get("product", ""))
    out = lookup.plates_standing(product, ("out",))
    rows_ = [
        Row(str(u.lot_no), f"{u.about.get('product')} {u.about.get('colour', '')}", now=n == 0)
        for n, u in enumerate(units)
    ]
    plates = ", ".join(out[:3]) + (" …" if len(out) > 3 else "") if out else _("none is checked out")
    return (*rows_, Row(_("Plates out for %(product)s") % {"product": product}, plates, note=True))


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    """The mould stays while a moulding of it waits for its plate."""
    if not sight.text("plate"):
        found = sight.one("mould")
        purpose = str(found.load.about.get("purpose", "production")) if found and found.load else "production"
        return {"mould": sight.text("mould")} | ({"purpose": purpose} if purpose != "production" else {})
    return {"mould": sight.text("mould")} if len(waiting(sight)) > 1 else {}


DEMOULD = Station(
    slug="demould",
    title=gettext_lazy("Demould"),
    home=Home(MOULDING, 50, gettext_lazy("Take the moulding out and bind its plate")),
    roles=("operator", "lead"),
    slots=slots,
    commands=commands,
    fields=fields,
    next=next_,
    objection=objection,
    rows=rows,
    place=lambda sight: sight.key("mould"),
    opens=lambda _sight, found: bool(found.waiting) or (found.mould or {}).get("stage") in ("to demould", None),
    after=after,
    caution=HOT,
    stops=MADE,
)


# One moulding cut into parts: hatch lids, cut-outs.


def cut_slots(sight: Sight) -> tuple[Slot, ...]:
    return (Slot("moulding", ("moulding",), _("Scan or type the moulding's number"), clears=("parts",)),)


def cut_fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("moulding"):
        return ()
    return (Field("parts", _("Parts"), required=True, hint=_("two names or more, as LEFT RIGHT")),)


def cut_commands(sight: Sight) -> Sequence[Command] | None:
    parts = tuple(sight.text("parts").replace(",", " ").split())
    return [Cut(moulding=sight.text("moulding"), parts=parts)] if parts and sight.text("moulding") else None


CUT = Station(
    slug="cut",
    title=gettext_lazy("Cut"),
    home=Home(FINISHING, 10, gettext_lazy("Cut one moulding into its parts")),
    roles=("operator", "lead"),
    slots=cut_slots,
    fields=cut_fields,
    commands=cut_commands,
    caution=gettext_lazy("Blades and falling cut-outs: clamp the part, keep hands clear, wear eye protection."),
)
