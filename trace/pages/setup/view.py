"""The page of one kind of plant data: its list, one thing with its revisions, and the form for a new one."""

import json
from typing import Any
from uuid import UUID

from django.db import connection
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.access import SETUP_ROLES, allowed
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import current
from trace.codes import printed, uuid7
from trace.pages.addresses import unit_url
from trace.pages.facts.notes import notes
from trace.pages.setup.lists import KindPage, RevisionLine, ThingLine, ThingPage, kind_words, summary
from trace.pages.setup.shapes import ShapeError, check, check_setting, read
from trace.readmodels.plantdata import newest
from trace.recording.acts.setup import NAMED, Define
from trace.recording.commands import By
from trace.recording.record import record
from trace.speech import names_of, speak

REVISIONS = """
SELECT v.version, v.body, e.happened, e.person,
  ARRAY(SELECT l.code::text FROM label l WHERE l.resource = r.id ORDER BY l.event DESC, l.code)
FROM resource r JOIN revision v ON v.thing = r.id JOIN event e ON e.id = v.event
WHERE r.kind = %s AND r.key = %s ORDER BY v.version DESC
"""


def setup(request: HttpRequest, kind: str) -> HttpResponse:
    """GET lists the kind, or shows the thing `key` (`new`: an empty form). POST records a revision.

    Context: kind (trace.pages.setup.lists.KindPage), or thing (ThingPage). Raises NotThere.
    """
    if kind not in SETUP_ROLES:
        raise NotThere
    if request.method == "POST":
        return _send(request, kind)
    key = request.GET.get("key", "")
    if "new" in request.GET and _may_change(request, kind):
        return _form(request, ThingPage(kind, kind_words(kind), scan_id=str(uuid7()), text=example(kind)))
    if key:
        return _form(request, thing_page(kind, key))
    context = {"kind": kind_page(kind), "may_change": _may_change(request, kind)}
    return render(request, "pages/setup_kind.html", context)


def _may_change(request: HttpRequest, kind: str) -> bool:
    person = current(request)
    return person is not None and allowed(person.roles, "setup", "POST", {"kind": kind})


def _form(request: HttpRequest, page: ThingPage, status: int = 200) -> HttpResponse:
    context = {"thing": page, "may_change": _may_change(request, page.kind)}
    return render(request, "pages/setup_thing.html", context, status=status)


def kind_page(kind: str) -> KindPage:
    """Every thing of one kind as it stands, in two queries."""
    things = newest().of_kind(kind)
    named = notes([t.body.get("name") for t in things] if kind in NAMED else [])
    lines = [
        ThingLine(
            key=t.key,
            name=named.text(t.body.get("name")) if kind in NAMED else str(t.body.get("name") or ""),
            words=summary(kind, t.body),
            version=t.version,
            ended=t.ended,
            url=_url(kind, t.key),
        )
        for t in things
    ]
    return KindPage(kind, kind_words(kind), tuple(lines), f"{reverse('setup', args=[kind])}?new=1")


def _url(kind: str, key: str) -> str:
    return f"{reverse('setup', args=[kind])}?{urlencode({'key': key})}"


def thing_page(kind: str, key: str) -> ThingPage:
    """One thing with all its revisions, the newest in the form. Raises NotThere."""
    with connection.cursor() as cursor:
        cursor.execute(REVISIONS, [kind, key])
        rows = cursor.fetchall()
    if not rows:
        raise NotThere(what=_("There is no %(kind)s %(key)s.") % {"kind": kind.replace("_", " "), "key": key[:60]})
    bodies = [json.loads(row[1]) for row in rows]
    named = notes([b.get("name") for b in bodies] if kind in NAMED else [])
    people = names_of(row[3] for row in rows if row[3])
    revisions = [
        RevisionLine(
            version, when, people.get(who or "", ""), changed(body, bodies[n + 1] if n + 1 < len(bodies) else None)
        )
        for n, ((version, _text, when, who, _codes), body) in enumerate(zip(rows, bodies, strict=True))
    ]
    body = {k: v for k, v in bodies[0].items() if not (kind in NAMED and k == "name")}
    return ThingPage(
        kind=kind,
        kind_words=kind_words(kind),
        key=key,
        name=named.text(bodies[0].get("name")) if kind in NAMED else "",
        text=json.dumps(body, ensure_ascii=False, indent=2),
        labels=", ".join(printed(c) for c in rows[0][4]),
        revisions=tuple(revisions),
        scan_id=str(uuid7()),
        history_url=unit_url(rows[0][4][0] if rows[0][4] else key),
    )


def changed(body: dict[str, Any], before: dict[str, Any] | None) -> str:
    """Which fields a revision changed, by name."""
    if before is None:
        return _("first entered")
    keys = [k for k in dict.fromkeys([*before, *body]) if before.get(k) != body.get(k)]
    return ", ".join(k.replace("_", " ") for k in keys) or _("the name")


def _send(request: HttpRequest, kind: str) -> HttpResponse:
    post, person = request.POST, current(request)
    key, text = post.get("key", "").strip(), post.get("body", "")
    try:
        scan_id = UUID(post.get("scan_id", ""))
    except ValueError:
        raise NotUnderstood from None
    if person is None:
        raise NotUnderstood
    error = ""
    try:
        body = _simple(kind, post) if "body" not in post else read(kind, text)
        if kind == "setting":
            check_setting(key, body)
        if "body" not in post:
            check(kind, body)
        text = json.dumps(body, ensure_ascii=False, indent=2)
        answer = record(
            Define(kind=kind, key=key, name=_name(kind, key, post.get("name", "").strip()), body=body),
            By(person=person.person, station="plant data", scan_id=scan_id),
        )
        if answer.outcome == "refused":
            error = speak(f"{answer.what} {answer.why} {answer.now}")
    except ShapeError as wrong:
        error = str(wrong)
    if not error:
        return HttpResponseRedirect(_url(kind, key))
    page = ThingPage(
        kind, kind_words(kind), "" if "new" in post else key, post.get("name", ""), text, scan_id=str(uuid7()),
        error=error, typed_key=key,
    )  # fmt: skip
    return _form(request, page, status=409)


def _name(kind: str, key: str, typed: str) -> str:
    """The name to keep: "" where it stands already, so that the same name is not kept twice."""
    if kind not in NAMED or not typed:
        return ""
    known = newest().body(kind, key).get("name")
    return "" if known and notes([known]).text(known) == typed else typed


def _simple(kind: str, post: Any) -> dict[str, Any]:
    """The body of a works order from its own fields."""
    if kind != "works_order":
        raise ShapeError(_("“body” is missing."))
    quantity = str(post.get("quantity", "")).strip()
    if not (quantity.isascii() and quantity.isdigit() and len(quantity) < 7):
        raise ShapeError(_("“quantity” must be a whole number."))
    body: dict[str, Any] = {k: str(post.get(k, "")).strip() for k in ("product", "colour", "purpose")}
    body["quantity"] = int(quantity)
    if post.get("ended"):
        body["ended"] = True
    products = {t.key: t.body for t in newest().of_kind("product")}
    if body["product"] not in products:
        raise ShapeError(_("There is no product %(key)s.") % {"key": body["product"][:60] or "?"})
    if body["colour"] not in products[body["product"]].get("colours", {body["colour"]: ""}):
        raise ShapeError(_("%(product)s has no colour %(colour)s.") % body)
    return body


def example(kind: str) -> str:
    """What an empty form begins with."""
    bodies: dict[str, dict[str, Any]] = {
        "person": {"roles": ["operator"], "trained": {"weighing": "2027-06-30"}, "until": None},
        "place": {"name": "", "kind": "rack", "max_kg": "240", "levels": 3},
        "supplier": {"name": "", "materials": []},
        "mould": {
            "products": [], "arms": [], "cavities": ["1"], "service_every": 500, "vent_every": 100,
            "release_every": 40, "state": "in service",
        },
        "machine": {"kind": "oven", "motion": "rock", "calibration_due": "2027-03-01", "state": "in service"},
        "instrument": {
            "kind": "scale", "resolution": "0.01", "calibration_due": "2027-02-03", "check_mass": "10.000",
            "check_tolerance": "0.02",
        },
        "material": {
            "name": "", "kind": "powder", "colour": "#9fb1ba", "density": "938", "bulk_density": "350",
            "fill_tolerance": "0.02", "spec": {"mfi": ["3.2", "3.8"]},
        },
        "product": {
            "name": "", "area_m2": "5.2", "colours": {}, "layers": [
                {"name": "skin", "material": "", "target_kg": "12.20", "tolerance_kg": "0.10", "arrives": "tub"}
            ],
            "inserts": {}, "graphics": {}, "zones": {}, "cook": {"ovens": [], "stages": ["heat", "out"]},
            "cavities": ["1"], "hull_number": {"format": "plant", "prefix": ""}, "checks": ["surface"],
        },
        "works_order": {"product": "", "colour": "", "quantity": 1, "purpose": "production"},
        "sales_order": {"consignee": "", "lines": [{"product": "", "colour": "", "quantity": 1}]},
        "device": {"name": "", "station": ""},
        "setting": {"value": ""},
    }  # fmt: skip
    return json.dumps(bodies.get(kind, {}), ensure_ascii=False, indent=2)
