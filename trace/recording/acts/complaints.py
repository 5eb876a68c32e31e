"""Complaints: what somebody says is wrong with a hull, also one that cannot be named yet; which hull it is; its end.

A complaint is told, never refused. What it says stands in few plain words of a known form; names, contacts and all
that was said freely stand in notes, which can be erased.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.rows import Rows
from trace.recording.acts.complaint_words import CAUSES, HULLS, SYMPTOMS, word
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.complaints import ComplaintNow, complaints, next_complaint
from trace.recording.floor.standing import Floor

LONGEST_PLATE = 40


def day_or_none(text: str) -> str:
    """A day as 2026-06-09, "" where the text is none."""
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        return ""


def readable_plate(text: str) -> str:
    """What a plate says, with ? for each sign that could not be read or that no plate has."""
    return re.sub(r"[^A-Z0-9?*./ -]", "?", text.strip().upper())[:LONGEST_PLATE]


def _form(pattern: str) -> Callable[[str], str]:
    """The text where it has this form, else ""."""
    return lambda text: text if re.fullmatch(pattern, text) else ""


# What each plain field may hold: free words would stand in the event's bytes for ever.
FORMS: dict[str, Callable[[str], str]] = {
    "symptom": lambda text: text if text in SYMPTOMS else "other",
    "spot": _form(r"[\w./ -]{1,20}"),
    "product": _form(r"[\w./-]{1,60}"),
    "colour": _form(r"[\w./ -]{1,30}"),
    "month": _form("[0-9]{4}(-(0[1-9]|1[0-2]))?"),
    "plate": readable_plate,
    "sold": day_or_none,
    "failed": day_or_none,
    "reported": day_or_none,
    "hours": _form(r"[0-9]{1,6}(\.[0-9]{1,2})?"),
    "months": _form(r"[0-9]{1,4}(\.[0-9]{1,2})?"),
    "through": _form(r"[\w./ -]{1,60}"),
}


@dataclass(frozen=True, kw_only=True)
class TakeComplaint(Command):
    """Somebody complains. hull: its plate, "" while nobody knows which it is; plate: what of it can be read, ? for a
    sign that cannot; product, colour, month (2026-04, or a year): what the hull looks like.

    symptom: of SYMPTOMS; spot: a name of the model's drawing; sold, failed, reported: days; hours, months: of use;
    through: the consignee who passed it on. Each of them may be "": not told. buyer, contact and story (the words it
    was told in) are notes. photos: as trace/photos/evidence.py names them.
    """

    KIND = "complained"
    NAME = noop("complaint")
    OFF_PAPERS = True
    # Its number is the next one.
    ALONE = True

    hull: str = scanned("hull", "plate", optional=True)
    symptom: str = "other"
    spot: str = ""
    product: str = ""
    colour: str = ""
    month: str = ""
    plate: str = ""
    sold: str = ""
    failed: str = ""
    reported: str = ""
    hours: str = ""
    months: str = ""
    through: str = ""
    photos: tuple[str, ...] = ()
    buyer: str = words()
    contact: str = words()
    story: str = words()

    def said(self) -> dict[str, Any]:
        """Without what is not of the form of its field: nothing said freely enters the event's bytes."""
        said = super().said()
        return said | {name: form(said[name]) for name, form in FORMS.items()}

    @staticmethod
    def told(e: Told) -> str:
        number = next((str(row["number"]) for row in e.part("complaints")), "")
        at = _(" at %(spot)s") % {"spot": e.says["spot"]} if e.says.get("spot") else ""
        return _("Complaint %(number)s: %(symptom)s%(at)s") % {
            "number": number, "symptom": word(SYMPTOMS, e.says["symptom"]), "at": at,
        }  # fmt: skip


def complaint_facts(c: TakeComplaint, floor: Floor) -> Facts:
    """Nothing that a rule could speak against."""
    return {}


@handles(TakeComplaint, complaint_facts)
def take_complaint(c: TakeComplaint, floor: Floor, rows: Rows) -> str:
    said, number = c.said(), next_complaint()
    hull = floor[c.hull].hull if c.hull else None
    product = str(hull.about.get("product") or "") if hull else said["product"]
    rows.complaint(
        number, said["symptom"], hull=hull.uid if hull else None, product=product or None, spot=said["spot"] or None
    )
    if hull:
        rows.touch(hull.uid, "complained")
    for photo in c.photos:
        rows.photo(photo)
    for kind, key, role in (
        ("product", product, "complained of"), ("consignee", said["through"], "complained through"),
    ):  # fmt: skip
        if floor.plant.get(kind, key):
            rows.resource(kind, key, role)
    return f"complaint {number}: {said['symptom']}"


@dataclass(frozen=True, kw_only=True)
class TieHull(Command):
    """The hull of a complaint was found: hull is its plate, "" says that it was none of those it was taken for.

    A wrong tie is put right by the right one, with the reason.
    """

    KIND = "complaint_tied"
    NAME = noop("tie a complaint to its hull")
    OFF_PAPERS = True
    DECISION = True
    ALONE = True

    complaint: int
    hull: str = scanned("hull", optional=True)
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        if not e.says.get("hull"):
            said = _("Complaint %(number)s is of another hull")
        else:
            said = _("Complaint %(number)s is of hull %(hull)s")
        why = f": {e.why}" if e.why else ""
        return said % {"number": e.says["complaint"], "hull": printed(str(e.says.get("hull") or ""))} + why


def the_complaint(number: int) -> ComplaintNow | None:
    return next(iter(complaints([number])), None)


def tie_facts(c: TieHull, floor: Floor) -> Facts:
    known = the_complaint(c.complaint)
    found = floor[c.hull].hull if c.hull else None
    return {
        "complaint": {
            "unknown": known is None,
            "number": c.complaint,
            "same": bool(known and known.hull == (found.uid if found else None)),
            "serial": known.serial or "no hull" if known else "",
        },
        # The first tie says itself why; one that takes another's place does not.
        "correction": {"no_reason": bool(known and known.hull and not c.reason.strip())},
    }


@handles(TieHull, tie_facts)
def tie_hull(c: TieHull, floor: Floor, rows: Rows) -> str:
    known = the_complaint(c.complaint)
    assert known is not None  # noqa: S101 - COMPLAINT-UNKNOWN is basic
    hull = floor[c.hull].hull if c.hull else None
    rows.complaint_stands(known.event, hull=hull.uid if hull else None, case=known.case, still_open=known.open)
    # It stands in the history of the hull that it is of, and of the one that it is not of.
    for uid in (hull.uid if hull else None, known.hull):
        if uid:
            rows.touch(uid, "complaint tied")
    return f"complaint {known.number}: {floor[c.hull].name if hull else 'its hull is not known'}"


@dataclass(frozen=True, kw_only=True)
class CloseComplaint(Command):
    """A complaint that is in no case is over. cause: of CAUSES; hull: of HULLS, whether its hull was found."""

    KIND = "complaint_closed"
    NAME = noop("close a complaint")
    DECISION = True
    ALONE = True

    complaint: int
    cause: str = ""
    hull: str = ""
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Complaint %(number)s closed, cause: %(cause)s; the hull was %(found)s: %(why)s") % {
            "number": e.says["complaint"], "cause": word(CAUSES, e.says["cause"]),
            "found": word(HULLS, e.says["hull"]), "why": e.why or _("no reason given"),
        }  # fmt: skip


def closing_facts(cause: str, hull: str, reason: str, of: list[ComplaintNow]) -> Facts:
    """What is asked before a complaint or a case is closed."""
    lost = [str(one.number) for one in of if one.hull is None]
    return {
        "closing": {
            "no_cause": cause not in CAUSES,
            "no_hull_said": hull not in HULLS,
            "not_tied": hull == "found" and bool(lost),
            "tied": hull == "not found" and bool(of) and not lost,
            "lost": ", ".join(lost),
        },
        "correction": {"no_reason": not reason.strip()},
    }


def close_complaint_facts(c: CloseComplaint, floor: Floor) -> Facts:
    known = the_complaint(c.complaint)
    return {
        "complaint": {
            "unknown": known is None,
            "number": c.complaint,
            "closed": bool(known and not known.open),
            "in_case": bool(known and known.case is not None),
            "case": known.case or 0 if known else 0,
        },
        **closing_facts(c.cause, c.hull, c.reason, [known] if known else []),
    }


@handles(CloseComplaint, close_complaint_facts)
def close_complaint(c: CloseComplaint, floor: Floor, rows: Rows) -> str:
    known = the_complaint(c.complaint)
    assert known is not None  # noqa: S101
    rows.complaint_stands(known.event, hull=known.hull, case=known.case, still_open=False)
    if known.hull:
        rows.touch(known.hull, "complaint closed")
    return f"complaint {known.number} closed, cause: {c.cause}"
