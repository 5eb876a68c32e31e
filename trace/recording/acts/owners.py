"""Owners: who bought a hull, so that a notice can reach them; taken back where it was registered wrongly.

What the records keep of it is the hull, the day, the region and the use. Who it is stands in notes, which can be
erased.
"""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.codes.region import region_code
from trace.genealogy.owners import REGISTERED, USES, WITHDRAWN, owners
from trace.readmodels.rows import Rows
from trace.recording.acts.complaint_words import word
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.standing import Floor

OWNER_IS = {"first": noop("first purchaser"), "later": noop("later owner")}


@dataclass(frozen=True, kw_only=True)
class RegisterOwner(Command):
    """A hull has this owner. owner_is: of OWNER_IS; sold: the day of sale; region: as trace/codes/region.py; use: of
    USES; each of these three may be "": not told. owner, contact: notes.

    Nobody did anything to a hull by it, at whatever time: it is asked, and recorded when it is told.
    """

    KIND = "owner_registered"
    NAME = noop("register an owner")
    OFF_PAPERS = True
    DECISION = True
    # Two first purchasers of one hull cannot slip in beside each other.
    ALONE = True

    hull: str = scanned("hull")
    owner_is: str = "first"
    sold: str = ""
    region: str = ""
    use: str = ""
    owner: str = words()
    contact: str = words()

    @staticmethod
    def told(e: Told) -> str:
        said = [word(OWNER_IS, e.says["owner_is"])]
        said += [_("sold %(day)s") % {"day": e.says["sold"]}] if e.says["sold"] else []
        said.append(e.says["region"] or _("region unknown"))
        said += [word(USES, e.says["use"])] if e.says["use"] else []
        return _("Owner registered: %(said)s") % {"said": ", ".join(said)}


def day_trouble(text: str, today: date) -> str:
    """Why this is no day on which a hull can have been sold, in one sentence; "" where it can."""
    if not text:
        return ""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return f"“{text[:20]}” is no day: write it as 2026-06-09."
    return f"{text} has not come yet." if day > today else ""


def register_facts(c: RegisterOwner, floor: Floor) -> Facts:
    found = floor[c.hull]
    hull = found.hull
    there = [one for one in owners([hull.id]).get(hull.id, []) if one.first] if hull else []
    return {
        "owner": {
            "hull": printed(found.code),
            "day_trouble": day_trouble(c.sold, floor.plant.calendar.day(floor.now)),
            "no_region": bool(c.region) and region_code(c.region) != c.region,
            "region": c.region[:20],
            "no_use": bool(c.use) and c.use not in USES,
            "use": c.use[:20],
            "unsaid": c.owner_is not in OWNER_IS,
            "again": c.owner_is == "first" and bool(there),
            "since": f"{there[0].told:%Y-%m-%d}" if there else "",
            "nobody": not (c.owner.strip() and c.contact.strip()),
            "here": bool(hull and hull.status not in ("dispatched", "made before records") and not hull.back_at),
            "status": (hull.status if hull else None) or "unknown",
        }
    }


@handles(RegisterOwner, register_facts)
def register_owner(c: RegisterOwner, floor: Floor, rows: Rows) -> str:
    hull = floor[c.hull].hull
    assert hull is not None  # noqa: S101 - the code was asked to be a hull's
    rows.touch(hull.uid, REGISTERED)
    return f"{floor[c.hull].name}: {OWNER_IS[c.owner_is]} registered"


@dataclass(frozen=True, kw_only=True)
class WithdrawOwner(Command):
    """A registration was wrong, by the uid of its event. The right one is registered beside it."""

    KIND = "owner_withdrawn"
    NAME = noop("take a registration back")
    OFF_PAPERS = True
    DECISION = True
    ALONE = True

    hull: str = scanned("hull")
    registration: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Registration of an owner taken back: %(why)s") % {"why": e.why or _("no reason given")}


def withdraw_facts(c: WithdrawOwner, floor: Floor) -> Facts:
    hull = floor[c.hull].hull
    there = owners([hull.id]).get(hull.id, []) if hull else []
    return {
        "owner": {
            "hull": printed(floor[c.hull].code),
            "gone": c.registration not in {one.uid for one in there},
        },
        "correction": {"no_reason": not c.reason.strip()},
    }


@handles(WithdrawOwner, withdraw_facts)
def withdraw_owner(c: WithdrawOwner, floor: Floor, rows: Rows) -> str:
    hull = floor[c.hull].hull
    assert hull is not None  # noqa: S101
    rows.touch(hull.uid, WITHDRAWN)
    return f"{floor[c.hull].name}: a registration taken back"
