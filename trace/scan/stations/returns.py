"""A hull comes back: its plate, where it is put, who sent it, and the complaint that it comes for."""

from collections.abc import Sequence
from dataclasses import replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.recording.acts.complaint_words import SYMPTOMS, word
from trace.recording.acts.returns import Return
from trace.recording.commands import Command
from trace.recording.floor.complaints import open_of
from trace.recording.floor.standing import Found
from trace.scan.page import Action, Field, Row
from trace.scan.sight import FINISHING, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HEAVY, choice, consignees, done_rows, press

EVENTS = ("packed", "dispatched", "complained", "returned", "inspected")


def slots(_sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("hull", ("hull", "plate"), _("Scan the plate of the hull that came back"), clears=("complaint", "plate")),
        Slot("place", ("place",), _("Scan where you put it")),
    )


def complaints(sight: Sight) -> list[tuple[int, str]]:
    """(number, symptom) of the open complaints of the hull scanned."""
    found = sight.one("hull")
    if found is None or found.hull is None:
        return []
    if "complaints" not in sight.looked:
        sight.looked["complaints"] = open_of(found.hull.id)
    told: list[tuple[int, str]] = sight.looked["complaints"]
    return told


def fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("hull") and not sight.text("place"):
        return ()
    told = complaints(sight)
    # The only one that there is stands in the box; a person may take it out.
    number = str(told[0][0]) if len(told) == 1 else ""
    open_ = "; ".join(f"{n}, {word(SYMPTOMS, symptom)}" for n, symptom in told)
    return (
        replace(
            choice("consignee", _("Who sent it"), consignees(sight), required=False),
            without=_("Somebody else, or nobody knows"),
        ),
        Field("complaint", _("For the complaint with number"), "count", sight.text("complaint") or number,
              hint=_("open: %(which)s") % {"which": open_} if open_ else ""),
        Field("sender", _("Who brought it, if no dealer")),
        *(() if sight.text("hull") else (
            Field("plate", _("What the plate says, ? for what cannot be read"), ask=_("What can be read of its plate?"),
                  without=_("Nothing can be read")),
        )),
        Field("remark", _("Remark")),
        Field("photo_evidence", _("Photo"), "photo", value=sight.text("photo_evidence")),
    )  # fmt: skip


def asks(sight: Sight) -> tuple[str, ...]:
    return ("consignee",) if sight.text("hull") and sight.text("place") else ()


def actions(sight: Sight) -> tuple[Action, ...]:
    if sight.text("hull") and sight.text("place"):
        return (press("back", _("It came back")),)
    if sight.text("place"):
        return (press("unknown", _("No record knows it"), "plain", needs=("plate",), below=True),)
    return ()


def commands(sight: Sight) -> Sequence[Command] | None:
    hull = sight.text("hull")
    if not sight.text("place") or sight.do != ("back" if hull else "unknown"):
        return None
    number = sight.text("complaint")
    return [
        Return(
            hull=hull, place=sight.text("place"), consignee=sight.text("consignee"), sender=sight.text("sender"),
            complaint=int(number[:9]) if number.isascii() and number.isdecimal() else 0,
            plate="" if hull else sight.text("plate"), remark=sight.text("remark"), photo=sight.text("photo_evidence"),
        )
    ]  # fmt: skip


def rows(sight: Sight) -> tuple[Row, ...]:
    found = sight.one("hull")
    return done_rows(lookup.history_of(found.hull.id, EVENTS)) if found and found.hull else ()


def next_(sight: Sight) -> Next | None:
    found = sight.one("hull")
    if found is None or not sight.text("place"):
        return None
    about = found.hull.about if found.hull else {}
    which = [found.code, about.get("product", ""), about.get("colour", ""), found.hull.status if found.hull else ""]
    return Next(_("Say who sent it, then press"), ", ".join(str(one) for one in which if one))


def is_out(_sight: Sight, found: Found) -> bool:
    return bool(found.hull and found.hull.status == "dispatched")


RETURNS = Station(
    slug="returns",
    title=gettext_lazy("Returns"),
    home=Home(FINISHING, 70, gettext_lazy("A hull came back: say from whom and where it stands")),
    roles=("warehouse", "lead", "quality", "deputy"),
    slots=slots,
    fields=fields,
    asks=asks,
    thing="hull",
    actions=actions,
    commands=commands,
    keeps=("place",),
    opens=is_out,
    rows=rows,
    next=next_,
    caution=HEAVY,
)
