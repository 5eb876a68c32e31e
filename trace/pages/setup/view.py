"""The page of one kind of plant data: its list, one thing with its revisions, and the form for a new one."""

import json
from dataclasses import replace
from typing import Any

from django.db import connection
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotThere, NotUnderstood
from plant.kinds.faults import Fault
from plant.kinds.judge import faults
from plant.kinds.kind import Kind
from plant.kinds.table import BY_NAME
from plant.sign_on import SignedOn, current
from trace.codes import printed, uuid7
from trace.pages.asked import form_number
from trace.pages.setup.boxes import boxes, typed
from trace.pages.setup.lists import Beside, KindPage, RevisionLine, ThingLine, ThingPage, summary
from trace.pages.setup.text import TextError, read, unreadable, written
from trace.pages.units.thing import facts
from trace.readmodels.plantdata import Thing, newest
from trace.recording.acts.setup import Define
from trace.recording.commands import By
from trace.recording.record import record
from trace.sheets.addresses import unit_url
from trace.sheets.facts.notes import notes
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
    declared = BY_NAME.get(kind)
    if declared is None:
        raise NotThere
    person = current(request)
    may = person is not None and allowed(person.roles, "setup", "POST", {"kind": kind}, person.tasks)
    if request.method == "POST":
        return _send(request, declared, person)
    key = request.GET.get("key", "")
    if "new" in request.GET and may:
        return _form(request, _asking(declared, dict(declared.example), may=True))
    if key:
        return _form(request, thing_page(declared, key, may))
    return render(request, "pages/setup_kind.html", {"kind": kind_page(declared, may)})


def _form(request: HttpRequest, page: ThingPage, status: int = 200) -> HttpResponse:
    return render(request, "pages/setup_thing.html", {"thing": page}, status=status)


def _asking(kind: Kind, body: dict[str, Any], found: list[Fault] | None = None, *, may: bool) -> ThingPage:
    """The page with its form, filled with a body: boxes where the kind has them, else text."""
    return ThingPage(
        kind=kind.name, kind_words=str(kind.title), one=str(kind.one), about=str(kind.about), named=kind.named,
        may_change=may, boxes=boxes(kind, body, newest(), found or []) if kind.by_boxes else (),
        text="" if kind.by_boxes else written(body), scan_id=str(uuid7()), faults=tuple(found or ()),
    )  # fmt: skip


def kind_page(kind: Kind, may: bool) -> KindPage:
    """Every thing of one kind as it stands, in two queries."""
    things = newest().of_kind(kind.name)
    named = notes([t.body.get("name") for t in things] if kind.named else [])
    lines = [
        ThingLine(
            key=t.key,
            name=named.text(t.body.get("name")) if kind.named else str(t.body.get("name") or ""),
            words=summary(kind, t.body),
            version=t.version,
            ended=t.ended,
            url=_url(kind.name, t.key),
        )
        for t in things
    ]
    new = f"{reverse('setup', args=[kind.name])}?new=1" if may else ""
    return KindPage(kind.name, str(kind.title), str(kind.about), tuple(lines), new)


def _url(kind: str, key: str) -> str:
    return f"{reverse('setup', args=[kind])}?{urlencode({'key': key})}"


def thing_page(kind: Kind, key: str, may: bool) -> ThingPage:
    """One thing with all its revisions, the newest in the form. Raises NotThere."""
    with connection.cursor() as cursor:
        cursor.execute(REVISIONS, [kind.name, key])
        rows = cursor.fetchall()
    if not rows:
        raise NotThere(what=_("There is no %(kind)s %(key)s.") % {"kind": kind.one, "key": key[:60]})
    bodies = [json.loads(row[1]) for row in rows]
    named = notes([b.get("name") for b in bodies] if kind.named else [])
    people = names_of(row[3] for row in rows if row[3])
    revisions = [
        RevisionLine(
            version, when, people.get(who or "", ""), changed(body, bodies[n + 1] if n + 1 < len(bodies) else None)
        )
        for n, ((version, _text, when, who, _codes), body) in enumerate(zip(rows, bodies, strict=True))
    ]
    return replace(
        _asking(kind, _nameless(kind, bodies[0]), may=may),
        key=key,
        name=named.text(bodies[0].get("name")) if kind.named else "",
        labels=", ".join(printed(c) for c in rows[0][4]),
        revisions=tuple(revisions),
        history_url=unit_url(rows[0][4][0] if rows[0][4] else key),
    )


def _nameless(kind: Kind, body: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in body.items() if not (kind.named and k == "name")}


def changed(body: dict[str, Any], before: dict[str, Any] | None) -> str:
    """Which fields a revision changed, by name."""
    if before is None:
        return _("first entered")
    keys = [k for k in dict.fromkeys([*before, *body]) if before.get(k) != body.get(k)]
    return ", ".join(k.replace("_", " ") for k in keys) or _("the name")


def _send(request: HttpRequest, kind: Kind, person: SignedOn | None) -> HttpResponse:
    """Keeps what was sent, or shows the form again with all that is wrong with it.

    `new` asks for a thing that is not there yet, `revise` for the next revision of one that is.
    """
    post = request.POST
    key, new = post.get("key", "").strip(), "new" in post and "revise" not in post
    scan_id = form_number(post)
    if person is None:
        raise NotUnderstood
    known = newest().get(kind.name, key)
    found: list[Fault] = []
    body, error = {}, ""
    try:
        body = _sent(kind, post, known)
        found = faults(kind.name, key, body, newest())
    except TextError as wrong:
        found = [unreadable(wrong)]
    if not found:
        answer = record(
            Define(kind=kind.name, key=key, name=_name(kind, key, post.get("name", "").strip()), body=body, new=new),
            By(person=person.person, station="plant data", scan_id=scan_id),
        )
        if answer.outcome != "refused":
            return HttpResponseRedirect(_url(kind.name, key))
        error = speak(f"{answer.what} {answer.why} {answer.now}")
    page = replace(
        _asking(kind, body, found, may=True),
        key="" if "new" in post else key,
        typed_key=key,
        name=post.get("name", "") if kind.named else "",
        error=error,
    )
    if "body" in post:
        page = replace(page, boxes=(), text=str(post["body"]) if found else written(body))
    if new and known is not None:
        page = replace(page, beside=_beside(kind, known, body), version=known.version)
    return _form(request, page, status=409)


def _sent(kind: Kind, post: QueryDict, known: Thing | None) -> dict[str, Any]:
    """The body that was sent: as text, or by its boxes. Raises TextError."""
    if "body" in post:
        return read(str(post["body"]))
    if not kind.by_boxes:
        raise TextError(_("“body” is missing."))
    return typed(kind, post, known.body if known else {})


def _beside(kind: Kind, known: Thing, body: dict[str, Any]) -> tuple[Beside, ...]:
    """What stands under a key and what was entered under it, field by field."""
    stands, entered = (
        {what: value for what, value, _cause in facts(_nameless(kind, one))} for one in (known.body, body)
    )
    if not kind.named:
        stands[_("name")], entered[_("name")] = str(known.body.get("name") or ""), str(body.get("name") or "")
    names = [name for name in dict.fromkeys([*stands, *entered]) if stands.get(name) or entered.get(name)]
    return tuple(
        Beside(name, stands.get(name, ""), entered.get(name, ""), stands.get(name) != entered.get(name))
        for name in names
    )


def _name(kind: Kind, key: str, given: str) -> str:
    """The name to keep: "" where it stands already, so that the same name is not kept twice."""
    if not kind.named or not given:
        return ""
    known = newest().body(kind.name, key).get("name")
    return "" if known and notes([known]).text(known) == given else given
