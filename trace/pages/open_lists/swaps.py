"""Plates that seem to stand on each other's mouldings, with the form that says what came of comparing the two."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import connection
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.pages.forms import Act, Before, Form, FormField, Sent, reason_of
from trace.pages.open_lists.listed import Counted, Line, OpenList
from trace.pages.swap_words import fits, likely
from trace.quality.plates_seen import Bound, bound, suspected
from trace.quality.swapped import Exchange
from trace.recording.acts.compared import ComparePlates
from trace.recording.acts.demould import GONE_AS, SwapPlates
from trace.recording.commands import Command
from trace.sheets.addresses import hull_url
from trace.speech import names_of

CROSSED, NOT_CROSSED = "crossed", "not crossed"
BETWEEN = " + "  # of the two plates in a key
GONE = """
SELECT s.text FROM serial_state s JOIN unit_state u ON u.unit = s.hull
 WHERE s.text = ANY (%(plates)s) AND (u.status = ANY (%(gone)s) OR u.back_at IS NOT NULL) ORDER BY s.text
"""
Pair = tuple[Exchange, Bound, Bound]


def _pairs() -> list[Pair]:
    """Likeliest first."""
    plates = bound()
    at = {one.plate: one for one in plates}
    return [(pair, at[pair.one], at[pair.other]) for pair in suspected(plates)]


def _since(one: Bound, other: Bound) -> datetime:
    """When the second of the two plates was bound: from then on they can have been exchanged."""
    return max(one.bound, other.bound)


def count() -> Counted:
    found = [_since(one, other) for _pair, one, other in _pairs()]
    return len(found), min(found, default=None)


def lines(skipped: int, most: int) -> list[Line]:
    """Likeliest first."""
    found = _pairs()[skipped : skipped + most]
    names = names_of({one.bound_by for _pair, *both in found for one in both if one.bound_by})
    return [_line(*one, names) for one in found]


def _line(pair: Exchange, one: Bound, other: Bound, names: Mapping[str, str]) -> Line:
    people = dict.fromkeys(names.get(plate.bound_by, "") for plate in (one, other))
    return Line(
        what=likely(pair),
        since=_since(one, other),
        codes=(
            *((plate.plate, hull_url(plate.plate)) for plate in (one, other)),
            (_("what was seen of both"), reverse("suspected_swaps")),
        ),
        detail=" ".join(fits(plate, beside) for plate, beside in ((one, other), (other, one))),
        who=", ".join(name for name in people if name),
        key=f"{one.plate}{BETWEEN}{other.plate}",
    )


def form(key: str, person: str) -> Form | None:
    found = next(((one, other) for _pair, one, other in _pairs() if key == f"{one.plate}{BETWEEN}{other.plate}"), None)
    if found is None:
        return None
    names = names_of({one.bound_by for one in found if one.bound_by})
    gone = _gone([one.plate for one in found])
    concession = FormField(
        "concession", _("Concession of quality: why they are exchanged all the same"), "words",
        hint=_("%(plates)s left the plant already, with its papers. Without these words nothing is exchanged; tell"
               " whoever has it.") % {"plates": _(" and ").join(gone)},
    )  # fmt: skip
    return Form(
        "compared", _("What came of it?"), _("Both hulls were compared"),
        (
            FormField("came", _("The plates are"), "choice", "", (
                (CROSSED, _("Crossed: exchange them")), (NOT_CROSSED, _("Not crossed: each is on its own hull")),
            ), required=True),
            FormField("why_words", _("What shows it on the hulls"), "words", required=True),
            *([concession] if gone else []),
        ),
        about=_(" and ").join(one.plate for one in found),
        hint=_("Compare both hulls first. Nothing of the past is changed; a hold on either stays until it is ended."),
        before=tuple(
            Before(_("Bound %(plate)s") % {"plate": one.plate}, names.get(one.bound_by, ""), one.bound,
                   one.bound_by == person) for one in found
        ),
        stop=True,
        key=key,
    )  # fmt: skip


def compared(key: str, sent: Sent) -> Command:
    first, _between, second = key.partition(BETWEEN)
    if sent.get("came") == CROSSED:
        return SwapPlates(first=first, second=second, evidence=reason_of(sent))
    return ComparePlates(first=first, second=second, reason=reason_of(sent))


def _gone(plates: Sequence[str]) -> list[str]:
    """Those that left the plant, which keep their papers unless quality concedes it."""
    with connection.cursor() as cursor:
        cursor.execute(GONE, {"plates": list(plates), "gone": list(GONE_AS)})
        return [text for (text,) in cursor.fetchall()]


def by_concession(sent: Sent) -> dict[str, str]:
    why = sent.get("concession", "")
    return {"SWAP-GONE": why} if why and sent.get("came") == CROSSED else {}


COMPARED = Act(
    "compared", "discrepancies", gettext_lazy("say what came of it"), form, compared, lets_pass=by_concession
)
SUSPECTED_SWAPS = OpenList(
    "swaps", gettext_lazy("Suspected swaps"), gettext_lazy("Plates that seem to stand on each other's mouldings"),
    gettext_lazy("No two plates are suspected by what was seen and weighed."), gettext_lazy("likeliest first"),
    count, lines, acts=(COMPARED,), where="finishing",
)  # fmt: skip
