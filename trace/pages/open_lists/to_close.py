"""The form beside what needs a look: what came of it, in a word and in the person's own."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.pages.forms import Act, Before, Form, Sent, reason_of, reasons
from trace.pages.open_lists.picking import rows, uid_of
from trace.readmodels.rows import moment
from trace.recording.acts.corrections import CloseDiscrepancy
from trace.recording.commands import Command
from trace.speech import names_of

OPEN = """
SELECT d.kind, v.happened, v.person, u.about->>'material' AS material, u.lot_no,
  (SELECT text FROM serial_state WHERE hull = d.unit) AS serial
FROM event v JOIN discrepancy d ON d.event = v.id LEFT JOIN unit u ON u.id = d.unit
WHERE v.uid = %(event)s AND d.n = %(n)s AND d.closed_by IS NULL
"""


def parted(key: str) -> tuple[str, int] | None:
    """The event's uid and the number of the question there; None for a key that is none."""
    event, _colon, n = key.partition(":")
    return (event, int(n)) if uid_of(event) and n.isascii() and n.isdecimal() and len(n) < 7 else None


def close_form(key: str, person: str) -> Form | None:
    parts = parted(key)
    found = rows(OPEN, {"event": parts[0], "n": parts[1]}) if parts else []
    if not found:
        return None
    one = found[0]
    who = names_of([one["person"]])[one["person"]] if one["person"] else ""
    of = " ".join(str(x) for x in (one["serial"], one["material"], one["lot_no"]) if x)
    return Form(
        "close", _("What came of it?"), _("Looked at: close it"),
        reasons([("counted", _("Counted")), ("explained", _("Explained")), ("corrected", _("Put right beside it"))]),
        about=f"{one['kind']}: {of}" if of else str(one["kind"]),
        hint=_("What was recorded stays; this says that somebody has looked, and what they found."),
        before=(Before(_("Recorded it"), who, moment(one["happened"]), one["person"] == person),),
        key=key,
    )  # fmt: skip


def close(key: str, sent: Sent) -> Command:
    event, n = parted(key) or ("", 0)
    return CloseDiscrepancy(event=event, n=n, reason=reason_of(sent))


CLOSE = Act("close", "discrepancies", gettext_lazy("say what came of it"), close_form, close)
