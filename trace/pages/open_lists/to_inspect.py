"""The form beside the hulls that wait for their inspection: checks, thickness by zone, mass, and the decision."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.pages.forms import Act, Before, Form, FormField, Sent
from trace.pages.open_lists.picking import rows, uid_of
from trace.readmodels.plantdata import newest
from trace.readmodels.rows import moment
from trace.recording.acts.finishing import Inspect
from trace.recording.commands import Command
from trace.sheets.addresses import hull_url
from trace.speech import names_of

HULL = """
SELECT t.text AS serial, u.about->>'product' AS product, s.status,
  (SELECT json_agg(json_build_object('kind', v.kind, 'person', v.person, 'happened', v.happened) ORDER BY v.happened)
     FROM event v WHERE v.kind IN ('bound', 'inspected')
      AND (v.id = u.event OR v.id IN (SELECT event FROM event_unit WHERE unit = u.id))) AS did
FROM unit u JOIN unit_state s ON s.unit = u.id JOIN serial_state t ON t.hull = u.id
WHERE u.uid = %(key)s AND u.kind = 'hull'
"""


def _hull(key: str) -> dict[str, Any] | None:
    found = rows(HULL, {"key": key}) if uid_of(key) else []
    return found[0] if found else None


def _recipe(one: Mapping[str, Any]) -> Mapping[str, Any]:
    return newest().body("product", one["product"])


def inspect_form(key: str, person: str) -> Form | None:
    one = _hull(key)
    if one is None:
        return None
    recipe = _recipe(one)
    zones = [
        FormField(
            f"zone_{zone}", _("Zone %(zone)s") % {"zone": zone}, "number", unit="mm",
            hint=_("least %(mm)s") % {"mm": rule.get("least_mm", "?")},
        )
        for zone, rule in (recipe.get("zones") or {}).items()
    ]  # fmt: skip
    checks = [
        FormField(f"check_{name}", _("%(check)s looked at") % {"check": str(name).capitalize()}, "tick")
        for name in recipe.get("checks") or []
    ]
    colours = tuple((str(name), str(name).capitalize()) for name in recipe.get("colours") or {})
    did = {"bound": _("Bound its plate"), "inspected": _("Inspected it before")}
    names = names_of({x["person"] for x in one["did"] or [] if x["person"]})
    return Form(
        "inspect", _("Inspect a hull"), _("Record the inspection"),
        (
            *zones, *checks, FormField("mass", _("Hull mass"), "number", unit="kg"),
            *([FormField("colour", _("Colour as seen"), "choice", "", colours)] if colours else []),
            FormField("remark", _("Remark"), "words"),
            FormField("verdict", _("It is"), "choice", "", (("pass", _("Pass")), ("fail", _("Fail"))), required=True),
        ),
        about=f"{one['serial']}, {recipe.get('name') or one['product'] or ''}",
        about_url=hull_url(str(one["serial"])),
        hint=_("A thickness that passes is not a strength that passes."),
        before=tuple(
            Before(did[x["kind"]], names.get(x["person"] or "", ""), moment(x["happened"]), x["person"] == person)
            for x in one["did"] or []
        ),
        key=key,
    )  # fmt: skip


def inspect(key: str, sent: Sent) -> Command:
    one = _hull(key) or {"serial": "", "product": None}
    recipe = _recipe(one)
    return Inspect(
        hull=str(one["serial"]), verdict=sent.get("verdict", ""), mass=sent.get("mass", ""),
        checks=tuple(name for name in recipe.get("checks") or [] if sent.get(f"check_{name}") == "yes"),
        thickness={z: sent[f"zone_{z}"] for z in recipe.get("zones") or {} if sent.get(f"zone_{z}")},
        remark=sent.get("remark", ""), colour=sent.get("colour", ""),
    )  # fmt: skip


INSPECT = Act("inspect", "inspect", gettext_lazy("inspect"), inspect_form, inspect)
