"""A hull comes back: from whom, for what complaint, and where it was put. It is never refused."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.apply import RETURNED
from trace.readmodels.rows import Rows
from trace.recording.acts.complaints import readable_plate, the_complaint
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.standing import Floor

# Where a hull is that may come back without anybody wondering.
OUTSIDE = ("dispatched", "made before records")


@dataclass(frozen=True, kw_only=True)
class Return(Command):
    """A hull stands in the plant again. hull: its plate, "" where no record knows it; plate: what can be read then, ?
    for a sign that cannot.

    consignee: who sent it, by key, "" where nobody knows or it was somebody else (`sender`, a note); complaint: the
    number of the one it comes back for, 0 for none. From then on it counts as out of its pack and off its truck.
    """

    KIND = "returned"
    NAME = noop("return")
    OFF_PAPERS = True
    # It is held until somebody has looked at it.
    ALONE = True

    hull: str = scanned("hull", "plate", optional=True)
    place: str = scanned("place")
    consignee: str = ""
    complaint: int = 0
    plate: str = ""
    photo: str = ""
    sender: str = words()
    remark: str = words()

    def said(self) -> dict[str, Any]:
        """What was read off a plate is no free words."""
        return super().said() | {"plate": readable_plate(self.plate)}

    @staticmethod
    def told(e: Told) -> str:
        key = e.says["consignee"]
        whom = _(" from %(whom)s") % {"whom": e.name_of("consignee", key)} if key else _(", nobody recorded from whom")
        number = e.says["complaint"]
        why = _(", complaint %(number)s") % {"number": number} if number else ""
        return _("Came back%(whom)s%(why)s, put in %(place)s") % {
            "whom": whom, "why": why, "place": e.place_of(e.says["place"]),
        }  # fmt: skip


def return_facts(c: Return, floor: Floor) -> Facts:
    found = floor[c.hull]
    hull = found.hull if c.hull else None
    complaint = the_complaint(c.complaint) if c.complaint else None
    return {
        "back": {
            "hull": printed(found.code) if c.hull else readable_plate(c.plate) or "no plate",
            "known": hull is not None,
            "here": bool(hull and hull.status not in OUTSIDE),
            "status": (hull.status if hull else None) or "unknown",
            "complaint": c.complaint,
            "other": bool(c.complaint) and (complaint is None or hull is None or complaint.hull != hull.uid),
            "of": (complaint.serial or "no hull yet") if complaint else "no record",
        }
    }


@handles(Return, return_facts)
def come_back(c: Return, floor: Floor, rows: Rows) -> str:
    found, place = floor[c.hull], floor[c.place].key
    hull = found.hull if c.hull else None
    if hull is None:
        # A plate that stands on no hull by the record is a trace of it all the same.
        unit = found.unit.uid if c.hull and found.unit else None
        rows.discrepancy("a hull came back that no record knows", unit)
    else:
        if hull.status not in OUTSIDE:
            rows.discrepancy("came back, though it had not left by the record", hull.uid)
        rows.touch(hull.uid, RETURNED)
        rows.status(hull.uid, RETURNED)
        rows.place(hull.uid, place)
    rows.photo(c.photo)
    rows.resource("place", place, "place")
    if floor.plant.get("consignee", c.consignee):
        rows.resource("consignee", c.consignee, "came back from")
    name = found.name if hull else readable_plate(c.plate) or "a hull without a plate"
    return f"{name} came back, in {place}"
