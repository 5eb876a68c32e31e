"""Putting a record right beside the old one, and closing what a person had to look at."""

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.codes import printed
from trace.recording.acts.corrections import CloseDiscrepancy, Correct
from trace.recording.acts.reading_corrections import CorrectReading
from trace.recording.commands import Command
from trace.recording.floor import words as say
from trace.recording.floor.read_off import read_off
from trace.recording.floor.standing import Found
from trace.scan.page import Action, Field, Row
from trace.scan.posted import moment_of
from trace.scan.sight import RECORDS, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import choice, press, reason_of, why
from trace.speech import names_of

CARRIERS = ("container", "vessel", "roll", "tub", "drop_box", "returnable")
READ = ("hull", "moulding", "part", "mould", "scale", "lot")


def slots(sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("was", (*CARRIERS, *READ), _("Scan the container that was named wrongly, or what a reading is of"),
             clears=("event", "now", "amount", "at", "lot", "only")),
        Slot("now", CARRIERS, _("Scan the right container"), optional=True),
    )


def records(sight: Sight) -> tuple[list[tuple[str, str]], str]:
    """(event uid, words) of what was taken from the container, and what was said of it itself; the one that is meant
    where only one thing was taken."""
    found = sight.one("was")
    if found is None or found.carrier is None:
        pairs = _readings(found) if found is not None else []
        return pairs, pairs[0][0] if len(pairs) == 1 else ""
    taken, itself = lookup.drawn_from(found.carrier), _itself(sight, found)
    likely = taken or itself
    lines = [*_lines([*taken, *itself]), *_readings(found)]
    return lines, str(likely[0]["event"]) if len(likely) == 1 else ""


def _itself(sight: Sight, found: Found) -> list[dict[str, Any]]:
    """The records of a carrier itself, looked up once."""
    name = f"itself {found.carrier}"
    if name not in sight.looked:
        sight.looked[name] = lookup.said_of_itself(found.carrier) if found.carrier else []
    known: list[dict[str, Any]] = sight.looked[name]
    return known


def _readings(found: Found) -> list[tuple[str, str]]:
    """(event uid:number, words) of what was read off an instrument, of what was scanned and what is behind it."""
    every = read_off(found)[:40]
    names = names_of({r.person for r in every if r.person})
    return [
        (f"{r.event}:{r.n}", f"{say.clock(r.when)} " + ", ".join(part for part in (
            " ".join(str(r.row[name]) for name in ("zone", "quantity", "value", "uom") if r.row[name]),
            names.get(r.person, "")) if part))
        for r in every
    ]  # fmt: skip


def _lines(taken: list[dict[str, Any]]) -> list[tuple[str, str]]:
    names = names_of({t["person"] for t in taken if t["person"]})
    return [
        (str(t["event"]), f"{say.clock(t['when'])} {t['kind'].replace('_', ' ')} {t['where'] or ''} "
         + (f"{say.amount(t['amount'], t['uom'])}, " if t["amount"] is not None else "")
         + names.get(t["person"], ""))
        for t in taken
    ]  # fmt: skip


def fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("was"):
        return ()
    pairs, meant = records(sight)
    booked = _has_lot(sight)
    reasons = [("wrong box scanned", _("Wrong box scanned")), ("wrong amount", _("Wrong amount")),
               ("wrong time", _("Wrong time")), ("wrong reading", _("Wrong reading")),
               *([("wrong lot", _("Wrong lot number"))] if booked else []),
               ("never happened", _("It never happened"))]  # fmt: skip
    lot = (
        Field("lot", _("Right lot number"), hint=_("of a delivery or opening stock; empty: as it was"),
              ask=_("Which lot number is on its label?")),
        Field("only", _("Only this container is of that lot, not all that were booked with it"), "checkbox"),
    )  # fmt: skip
    return (
        choice("event", _("Which record"), pairs, value=meant, ask=_("Which record is wrong?")),
        Field("amount", _("Right amount or reading"), "weight", hint=_("in kg, pieces or as shown; empty: as it was"),
              ask=_("What is right?")),
        Field("at", _("Right time"), "moment", hint=_("empty: as it was"), ask=_("When was it?")),
        *(lot if booked else ()),
        Field("withdraw", _("No container is known, or it was never read: withdraw it"), "checkbox"),
        why(reasons, ask=_("What is wrong with it?")),
    )  # fmt: skip


def _has_lot(sight: Sight) -> bool:
    """Whether it was booked with a lot number: at goods-in, or as opening stock."""
    found = sight.one("was")
    return found is not None and any(one["kind"] in ("received", "opening_stock") for one in _itself(sight, found))


def asks(sight: Sight) -> tuple[str, ...]:
    """Which record, what is wrong with it, and what is right instead."""
    right = {"wrong amount": ("amount",), "wrong reading": ("amount",), "wrong time": ("at",), "wrong lot": ("lot",)}
    return ("event", "why", *right.get(sight.text("why"), ()))


def actions(sight: Sight) -> tuple[Action, ...]:
    if sight.text("was") and sight.text("why") == "never happened":
        return (press("withdraw", _("Withdraw it and show the gap"), "stop", bare=False),)
    return ()


def commands(sight: Sight) -> Sequence[Command] | None:
    event = sight.text("event") or records(sight)[1]
    right, said = sight.text("now"), ("now", "withdraw", "amount", "at", "lot")
    if not sight.text("was") or not event or not (sight.do == "withdraw" or any(sight.text(name) for name in said)):
        return None
    if sight.typed and not reason_of(sight):
        return None
    if ":" in event:
        return _of_reading(sight, event)
    if not right and not sight.text("withdraw") and sight.do != "withdraw":
        right = sight.text("was")  # only the amount, the time or the lot was wrong
    return [
        Correct(
            event=event, was=sight.text("was"), now=right, amount=sight.text("amount"), at=right_time(sight),
            lot=sight.text("lot"), only=bool(sight.text("only")), reason=reason_of(sight),
        )
    ]  # fmt: skip


def right_time(sight: Sight) -> str:
    """The time picked, in the plant's own time, as it is recorded; what is no time is left for the rules to refuse."""
    moment = moment_of(sight.text("at"))
    return moment.isoformat() if moment else sight.text("at")


def _of_reading(sight: Sight, chosen: str) -> Sequence[Command] | None:
    """A reading is put right to a figure, or withdrawn; nothing else of it can be wrong here."""
    event, _colon, n = chosen.partition(":")
    withdrawn = bool(sight.text("withdraw")) or sight.do == "withdraw"
    value = "" if withdrawn else sight.text("amount").strip()
    if not value and not withdrawn:
        return None
    number = int(n[:6]) if n.isascii() and n.isdecimal() else 0
    return [CorrectReading(of=sight.text("was"), event=event, n=number, value=value, reason=reason_of(sight))]


def correct_rows(sight: Sight) -> tuple[Row, ...]:
    """What was scanned, with what is in it: the wrong container and the right one are not mixed up."""
    pairs = ((_("Named wrongly"), sight.one("was")), (_("The right one"), sight.one("now")))
    return tuple(Row(words, _inside(found), note=True) for words, found in pairs if found is not None)


def _inside(found: Found) -> str:
    what = say.lot_name(found.unit.about, found.unit.lot_no) if found.unit else _("empty by the book")
    return f"{found.name}, {what}"


def correct_next(sight: Sight) -> Next:
    if sight.text("why") == "never happened":
        return Next(_("It never happened: withdraw it"), _("The old record stays beside it, and the gap is shown."))
    return Next(_("Scan the right container"), _("The old record stays beside it."), "scan")


CORRECT = Station(
    slug="correct",
    title=gettext_lazy("Correct"),
    home=Home(RECORDS, 30, gettext_lazy("Put a record right beside the old one")),
    roles=("quality", "deputy", "lead"),
    slots=slots,
    fields=fields,
    commands=commands,
    rows=correct_rows,
    asks=asks,
    actions=actions,
    opens=lambda _sight, _found: False,  # who puts a record right looks for the station, not for a container
    next=lambda sight: correct_next(sight) if sight.text("was") else None,
    half_done=False,
)


# Discrepancies.


def open_ones(sight: Sight) -> list[tuple[str, str]]:
    if "open ones" not in sight.looked:
        found = lookup.open_discrepancies(sight.text("discrepancy"))
        names = names_of({one["person"] for one in found if one["person"]})
        sight.looked["open ones"] = [(f"{one['event']}:{one['n']}", _line(one, names)) for one in found]
    known: list[tuple[str, str]] = sight.looked["open ones"]
    return known


def _line(one: dict[str, Any], names: dict[str, str]) -> str:
    what = one["unit"] or " ".join(part for part in (one["thing"], printed(one["code"] or "")) if part)
    of = " ".join(part for part in (one["material"], what) if part)
    said = f"{say.clock(one['when'])} {one['kind']}" + (f": {of}" if of else "")
    return ", ".join(part for part in (said, one["hulls"], names.get(one["person"])) if part)


def close_fields(sight: Sight) -> tuple[Field, ...]:
    reasons = [("counted", _("Counted")), ("explained", _("Explained")), ("corrected", _("Put right beside it"))]
    if not open_ones(sight):
        return ()
    return (
        choice("discrepancy", _("Which"), open_ones(sight), ask=_("Which one did you look at?")),
        why(reasons, ask=_("What came of it?")),
    )


def close_commands(sight: Sight) -> Sequence[Command] | None:
    event, _colon, n = sight.text("discrepancy").partition(":")
    if not event or not sight.do:
        return None
    return [
        CloseDiscrepancy(event=event, n=int(n[:6]) if n.isascii() and n.isdecimal() else 0, reason=reason_of(sight))
    ]


def close_rows(sight: Sight) -> tuple[Row, ...]:
    return tuple(Row(words) for _value, words in open_ones(sight)[:12])


DISCREPANCIES = Station(
    slug="discrepancies",
    title=gettext_lazy("To look at"),
    home=Home(RECORDS, 40, gettext_lazy("What the records could not explain")),
    roles=("lead", "quality", "deputy"),
    readers=("auditor",),
    slots=lambda sight: (),
    fields=close_fields,
    commands=close_commands,
    next=lambda sight: Next(_("Say what came of it") if open_ones(sight) else _("Nothing waits to be looked at")),
    takes_code=False,
    half_done=False,
)
