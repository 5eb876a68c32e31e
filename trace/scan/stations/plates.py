"""Plates: made in a batch, checked out, counted back, and put right when two were bound the wrong way round."""

from collections.abc import Sequence
from dataclasses import replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from trace import lookup
from trace.recording.acts.demould import SwapPlates
from trace.recording.acts.new_plates import CAUSES, ReplacePlate
from trace.recording.acts.plates import CheckOutPlates, CountBackPlates, MakePlates
from trace.recording.acts.remoulds import Remould
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.scan.page import Action, Field, Row
from trace.scan.sight import STORES, Early, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import choice, press, reason_of, why

MOST = 500  # plates of one batch


def task(sight: Sight) -> str:
    return sight.text("task") or "out"


def slots(sight: Sight) -> tuple[Slot, ...]:
    if task(sight) == "swap":
        return (
            Slot("first", ("hull",), _("Scan one plate")),
            Slot("second", ("hull",), _("Scan the other plate")),
        )
    if task(sight) == "replace":
        return (
            # Not one of the slots below: what was begun there is no answer here.
            Slot("worn", ("hull",), _("Scan or type the number it had until now")),
            Slot("plate", ("plate",), _("Scan the new plate")),
        )
    if task(sight) == "remould":
        return (
            Slot("hull", ("hull",), _("Scan the plate of the new hull")),
            Slot("old", ("hull",), _("Scan or type the number of the old hull")),
        )
    if task(sight) == "make":
        return ()
    return (Slot("plates", ("plate",), _("Scan each plate"), many=True),)


def fields(sight: Sight) -> tuple[Field, ...]:
    tasks = [
        ("make", _("Make")),
        ("out", _("Check out")),
        ("back", _("Count back")),
        ("swap", _("Bound wrong way round")),
        ("replace", _("A new plate for a hull")),
        ("remould", _("Moulded anew for an old hull")),
    ]
    found = [replace(choice("task", _("What"), tasks, value=task(sight)), looks=True)]
    if task(sight) == "make":
        found += [
            choice("product", _("Product"), sight.choices("product")),
            Field(
                "first_number",
                _("First number"),
                "text",
                required=True,
                hint=_("the digits, or every text of the batch"),
            ),
            Field(
                "count",
                _("How many"),
                "count",
                required=len(sight.text("first_number").split()) == 1 and not _us(sight),
            ),
            Field("month", _("Month on the plate"), "month", hint=_("as 2026-04; empty where it carries none")),
        ]
    elif task(sight) == "back":
        found += [
            Field("missing", _("Out, but not found"), "text", hint=_("their numbers, with blanks between")),
            Field("stay_out", _("The others are still at work"), "checkbox"),
        ]
    elif task(sight) == "swap":
        shows = [("mass", _("Mass")), ("colour", _("Colour")), ("photo", _("Photo")), ("seen", _("Seen at binding"))]
        found += [
            why(shows, label=_("What shows it")),
            Field("photo_evidence", _("Photo of both plates"), "photo", value=sight.text("photo_evidence")),
        ]
    elif task(sight) in ("replace", "remould"):
        found += _of_one_hull(sight)
    return tuple(found)


def _of_one_hull(sight: Sight) -> list[Field]:
    """What is asked of a hull that gets another plate, or that stands for an old one."""
    photo = Field("photo_evidence", _("Photo"), "photo", value=sight.text("photo_evidence"))
    if task(sight) == "replace":
        reasons = [(key, _(word)) for key, word in CAUSES.items()]
        return [why(reasons, label=_("What became of the plate before")), photo] if sight.text("plate") else []
    if not sight.text("old"):
        return []
    return [
        Field("plate_destroyed", _("The old plate is destroyed"), "checkbox"),
        Field("remark", _("Why it was moulded anew")), photo,
    ]  # fmt: skip


def _us(sight: Sight) -> bool:
    return bool(sight.plant.body("product", sight.text("product")).get("hull_number", {}).get("format") == "us")


def serials(sight: Sight) -> tuple[str, ...]:
    """The batch: consecutive numbers after the product's prefix, or the texts as they were typed."""
    typed = sight.text("first_number").upper().split()
    form = sight.plant.body("product", sight.text("product")).get("hull_number", {})
    count = sight.text("count")
    if len(typed) != 1 or form.get("format") == "us" or not count.isdecimal() or not count.isascii():
        return tuple(typed)
    prefix = str(form.get("prefix", ""))
    digits = typed[0].removeprefix(prefix)
    if not (digits.isdecimal() and digits.isascii() and len(digits) <= 6):
        return tuple(typed)
    many = int(count[:6])
    return tuple(f"{prefix}{int(digits) + n:06d}" for n in range(many)) if many <= MOST else ()


def commands(sight: Sight) -> Sequence[Command] | None:
    if task(sight) == "make":
        if not (sight.text("product") and sight.text("first_number")):
            return None
        return [MakePlates(product=sight.text("product"), serials=serials(sight), month=sight.text("month"))]
    if task(sight) == "swap":
        if not (sight.text("first") and sight.text("second") and (reason_of(sight) or (sight.do and not sight.typed))):
            return None
        return [
            SwapPlates(
                first=sight.text("first"), second=sight.text("second"), evidence=reason_of(sight),
                photo=sight.text("photo_evidence"),
            )
        ]  # fmt: skip
    if task(sight) in ("replace", "remould"):
        return _for_one_hull(sight)
    if sight.do != "done":
        return None
    if task(sight) == "out":
        return [CheckOutPlates(plates=sight.codes("plates"))]
    missing = tuple(sight.text("missing").upper().replace(",", " ").split())
    stay_out = sight.text("stay_out") == "yes"
    return [CountBackPlates(plates=sight.codes("plates"), missing=missing, stay_out=stay_out)]


def _for_one_hull(sight: Sight) -> Sequence[Command] | None:
    photo = sight.text("photo_evidence")
    if task(sight) == "remould":
        if sight.do != "remould" or not sight.text("hull"):
            return None
        return [
            Remould(
                hull=sight.text("hull"), old=sight.text("old"), plate_destroyed=sight.text("plate_destroyed") == "yes",
                reason=sight.text("remark"), photo=photo,
            )
        ] if sight.text("old") else None  # fmt: skip
    # Once it is said what became of the old plate, a second person's badge is enough to go on.
    if not (sight.text("worn") and sight.text("plate") and sight.text("why")):
        return None
    return [
        ReplacePlate(
            hull=sight.text("worn"), plate=sight.text("plate"), cause=sight.text("why"),
            reason=sight.text("why_words"), photo=photo,
        )
    ]  # fmt: skip


def early(sight: Sight) -> Early | None:
    """Each plate is judged when it is scanned, not when the whole bundle is."""
    plates = sight.codes("plates")
    if not plates:
        return None
    if task(sight) == "out":
        return CheckOutPlates(plates=plates), ("PLATE-MISPLACED",)
    return (CountBackPlates(plates=plates), ("PLATE-MISPLACED",)) if task(sight) == "back" else None


def actions(sight: Sight) -> tuple[Action, ...]:
    n = len(sight.codes("plates"))
    if task(sight) == "out" and not n:
        return ()
    if task(sight) == "out":
        return (press("done", ngettext("Check out %(n)d plate", "Check out %(n)d plates", n) % {"n": n}),)
    if task(sight) == "make":
        return (press("make", _("Make the plates")),)
    if task(sight) == "swap":
        return (press("swap", _("Exchange the plates")),) if sight.text("second") else ()
    if task(sight) == "replace":
        return (press("replace", _("Replace the plate")),) if sight.text("plate") else ()
    if task(sight) == "remould":
        return (press("remould", _("It stands for the old hull")),) if sight.text("old") else ()
    words = ngettext("Count back %(n)d plate", "Count back %(n)d plates", n)
    return (press("done", words % {"n": n}),)


def next_(sight: Sight) -> Next | None:
    if task(sight) == "make":
        return Next(_("Fill in the batch and send it"))
    if task(sight) == "swap" and sight.text("first") and sight.text("second"):
        return Next(_("Say what shows it, then send"), f"{sight.text('first')} · {sight.text('second')}")
    if task(sight) == "replace" and sight.text("plate"):
        both = f"{sight.text('worn')} → {sight.text('plate')}"
        return Next(_("Two people read both numbers. Say what became of the old plate, then send"), both)
    if task(sight) == "remould" and sight.text("old"):
        both = f"{sight.text('hull')} ← {sight.text('old')}"
        return Next(_("Destroy the old plate, tick it, then send"), both)
    return Next(_("Scan each plate, then press the button"), "", "scan") if sight.text("plates") else None


def rows(sight: Sight) -> tuple[Row, ...]:
    scanned = tuple(Row(code, "", True) for code in sight.codes("plates"))
    if task(sight) == "make" and sight.text("product"):
        there = lookup.plates_standing(sight.text("product"), ("made", "back"))
        return (Row(_("Ready to check out"), ", ".join(there[-3:]) or _("none"), bool(there)),)
    return scanned


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    return {"task": task(sight)} | ({"product": sight.text("product")} if sight.text("product") else {})


PLATES = Station(
    slug="plates",
    title=gettext_lazy("Plates"),
    home=Home(STORES, 40, gettext_lazy("Hand out and count back number plates")),
    roles=("operator", "lead", "stores"),
    slots=slots,
    fields=fields,
    commands=commands,
    early=early,
    actions=actions,
    next=next_,
    rows=rows,
    after=after,
)
