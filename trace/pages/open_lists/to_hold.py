"""Forms beside the holds in force: a hold is laid on what is typed, and one of the list is ended."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.genealogy.live import held_name
from trace.pages.forms import Act, Before, Form, FormField, Sent, reason_of, reasons
from trace.pages.open_lists.picking import rows, uid_of
from trace.readmodels.rows import moment
from trace.recording.acts import hold_words
from trace.recording.acts.holds import SAFETY, Hold, ReleaseHold
from trace.recording.commands import Command
from trace.recording.floor import words as say
from trace.speech import spoken

OPEN = f"""
SELECT h.rule, e.happened, e.person, e.why, {held_name("u")} AS of FROM hold h JOIN event e ON e.id = h.event
  JOIN unit u ON u.id = h.unit
 WHERE h.uid = %(key)s
   AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND (r.unit IS NULL OR r.unit = h.unit))
"""


def kind_words(rule: str) -> str:
    """Why a hold was laid, in a word; one that a rule laid is called by the rule."""
    words = {
        "quality": _("Quality"), "safety": _("Safety"), "stop-use": _("Stop use"), "question": _("A question"),
    }  # fmt: skip
    return words.get(rule, rule)


def lay_form(_key: str, _person: str) -> Form | None:
    kinds = tuple((rule, kind_words(rule)) for rule in ("quality", "safety", "stop-use", "question"))
    return Form(
        "lay", _("Lay a hold"), _("Lay the hold"),
        (
            FormField("code", _("Label, plate or lot"), required=True, hint=_("as printed, or scanned into the box")),
            FormField("kind", _("Hold for"), "choice", "quality", kinds, required=True),
            FormField("whole_lot", _("Of a container: its whole lot, and all that came of it"), "tick"),
            *reasons([
                ("values in question", _("Values in question")), ("damage", _("Damage")),
                ("wrong label", _("Wrong label")), ("complaint", _("Complaint")),
                ("instrument in doubt", _("Instrument in doubt")),
            ]),
        ),
        hint=_("It stops at once whatever comes of it, also what is made later."), stop=True,
    )  # fmt: skip


def lay(_key: str, sent: Sent) -> Command:
    return Hold(
        code=sent.get("code", ""), rule=sent.get("kind") or "quality", whole_lot=sent.get("whole_lot") == "yes",
        reason=reason_of(sent),
    )  # fmt: skip


def end_form(key: str, person: str) -> Form | None:
    found = rows(OPEN, {"key": key}) if uid_of(key) else []
    if not found:
        return None
    one = found[0]
    why, who = spoken([hold_words.reason(one), say.person(one["person"]) if one["person"] else ""])
    return Form(
        "end", _("End a hold"), _("End the hold"),
        (
            FormField(
                "code", _("Only for this plate or label"),
                hint=_("Leave it empty to end the hold for everything that it is on."),
            ),
            *reasons([
                ("tested and found good", _("Tested and found good")), ("put right", _("Put right")),
                ("laid by mistake", _("Laid by mistake")),
            ]),
        ),
        about=f"{one['of']}: {why}",
        hint=_("A hold for safety or stop use is ended by another person than the one who laid it.")
        if one["rule"] in SAFETY else "",
        before=(Before(_("Laid the hold"), who, moment(one["happened"]), one["person"] == person),),
        key=key,
    )  # fmt: skip


def end(key: str, sent: Sent) -> Command:
    return ReleaseHold(hold=key, code=sent.get("code", ""), reason=reason_of(sent))


LAY = Act("lay", "hold", "", lay_form, lay)
END = Act("end", "release-hold", gettext_lazy("end it"), end_form, end)
