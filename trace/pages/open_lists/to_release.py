"""The form beside the lots that wait: one is released, or on a condition, and who did what to it before is seen."""

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import printed
from trace.genealogy.live import label_now, live
from trace.pages.forms import Act, Before, Form, FormField, Sent, reason_of
from trace.pages.open_lists.picking import rows, uid_of
from trace.readmodels.rows import moment
from trace.recording.acts.goods_in import Release
from trace.recording.commands import Command
from trace.speech import names_of

LOT = f"""
SELECT u.lot_no, u.about->>'material' AS material,
  (SELECT {label_now("l.carrier = c.carrier")} FROM edge d JOIN unit c ON c.id = d.child
    WHERE d.parent = u.id AND d.role = 'receive' AND {live("d")} ORDER BY c.id LIMIT 1) AS code,
  (SELECT json_agg(json_build_object('kind', v.kind, 'person', v.person, 'happened', v.happened) ORDER BY v.happened)
     FROM event v WHERE v.kind IN ('received', 'certified', 'released')
      AND v.id IN (SELECT event FROM event_unit WHERE unit = u.id)) AS did
FROM unit u WHERE u.uid = %(key)s AND u.kind = 'lot'
"""


def _lot(key: str) -> dict[str, Any] | None:
    found = rows(LOT, {"key": key}) if uid_of(key) else []
    return found[0] if found and found[0]["code"] else None


def release_form(key: str, person: str) -> Form | None:
    one = _lot(key)
    if one is None:
        return None
    did = {"received": _("Booked it"), "certified": _("Entered a certificate"), "released": _("Released it before")}
    names = names_of({x["person"] for x in one["did"] or [] if x["person"]})
    how = (("released", _("Released")), ("conditional", _("Conditionally: nothing leaves until it is confirmed")))
    return Form(
        "release", _("Release a lot"), _("Record the release"),
        (
            FormField("how", _("It is"), "choice", choices=how, required=True),
            FormField("why_words", _("Remark"), "words"),
        ),
        about=_("%(material)s lot %(lot)s, all its containers (%(code)s)")
        % {"material": one["material"] or "", "lot": one["lot_no"] or "?", "code": printed(one["code"])},
        hint=_("A release ends no hold. A missing certificate is not a pass."),
        before=tuple(
            Before(did[x["kind"]], names.get(x["person"] or "", ""), moment(x["happened"]), x["person"] == person)
            for x in one["did"] or []
        ),
        key=key,
    )  # fmt: skip


def release(key: str, sent: Sent) -> Command:
    one = _lot(key)
    return Release(
        container=one["code"] if one else "", conditional=sent.get("how") == "conditional", reason=reason_of(sent)
    )


RELEASE_LOT = Act("release", "release", gettext_lazy("decide"), release_form, release)
