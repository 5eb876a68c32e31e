"""Plant data, settings, badges and label reprints: recorded like every scan."""

import json
from dataclasses import dataclass, field
from datetime import UTC
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from plant.kinds.judge import faults
from plant.kinds.settings import RULE
from plant.kinds.table import BY_NAME, LABELLED, NAMED
from trace.chain import canonical
from trace.codes import printed
from trace.codes.plant_day import USUAL, CalendarError, read_calendar
from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, scanned
from trace.recording.floor.sources import issue_codes
from trace.recording.floor.standing import Floor
from trace.recording.rules.table import TABLE

# So many faults are said in an answer; the form shows all of them.
SAID = 20


@dataclass(frozen=True, kw_only=True)
class Define(Command):
    """A thing of the plant as it is from now on: kind, key and the whole body (its shape: plant/kinds).

    A person's or consignee's name is given as `name` and goes into a note; the body keeps its digest. new: it must not
    be there yet; else this is the next revision of what is there, or the first.
    """

    KIND = "defined"
    NAME = noop("plant data")
    DECISION = True
    # Revisions are recorded in the order of their numbers, so that the newest number tells whether plant data changed.
    ALONE = True

    kind: str
    key: str
    body: dict[str, Any]
    name: str = field(default="", metadata={"words": True})
    new: bool = False

    def said(self) -> dict[str, Any]:
        """Without a name that was written into the body: it would stand in the event's bytes."""
        said = super().said()
        return {**said, "body": _nameless(self.kind, said["body"])}

    @staticmethod
    def told(e: Told) -> str:
        kind = e.says["kind"].replace("_", " ")
        return _("Plant data: %(kind)s %(key)s entered or revised") % {"kind": kind, "key": e.says["key"]}


def define_facts(c: Define, floor: Floor) -> Facts:
    known = floor.plant.get(c.kind, c.key)
    trouble = ""
    try:
        canonical(c.body)
    except ValueError as error:
        trouble = f"The data cannot be kept as it is written: {error}"
    body = _nameless(c.kind, c.body)
    wrong = [str(fault) for fault in faults(c.kind, c.key, body, floor.plant)] if c.kind in BY_NAME else []
    more = [f"And {len(wrong) - SAID} more."] if len(wrong) > SAID else []
    if c.kind == "setting" and not wrong:
        trouble = trouble or _calendar_trouble(c)
    return {
        "typed": {"trouble": trouble},
        "thing": {
            "unknown_kind": c.kind not in BY_NAME,
            "kind": c.kind.replace("_", " "),
            "key": c.key,
            "bad_key": not _good_key(c.key),
            "faults": " ".join(wrong[:SAID] + more),
            "there": c.new and known is not None,
            "version": known.version if known else 0,
            "same": bool(known and not c.name and _nameless(c.kind, known.body) == body),
            "fixed_rule": c.kind == "setting" and c.key.startswith(RULE) and c.key.removeprefix(RULE) in _fixed(),
        },
    }


def _calendar_trouble(c: Define) -> str:
    """Why shifts or holidays cannot be what every scan goes by, as a sentence; "" for any other setting."""
    value = c.body.get("value")
    try:
        if c.key in ("shifts", "shift ends"):
            read_calendar(value, [], UTC)
        elif c.key == "holidays":
            read_calendar(USUAL, value, UTC)
    except CalendarError as error:
        return str(error)
    return ""


def _nameless(kind: str, body: dict[str, Any]) -> dict[str, Any]:
    """The body without the name of a kind whose names are kept apart."""
    return {k: v for k, v in body.items() if k != "name" or kind not in NAMED}


def _good_key(key: str) -> bool:
    return 0 < len(key) <= 60 and key.isprintable() and key == key.strip() and ":" not in key.removeprefix(RULE)


def _fixed() -> set[str]:
    return {rule.code for rule in TABLE if rule.fixed}


@handles(Define, define_facts)
def define(c: Define, floor: Floor, rows: Rows) -> str:
    known = floor.plant.get(c.kind, c.key)
    body = json.loads(canonical(c.body))
    if c.kind in NAMED:
        body["name"] = c.name or (known.body.get("name") if known else None)
    rows.thing(c.kind, c.key, known.version + 1 if known else 1, canonical(body), floor.happened)
    rows.resource(c.kind, c.key, "defined")
    if known is None and c.kind in LABELLED:
        rows.label(issue_codes(1)[0], thing=f"{c.kind}:{c.key}")
    return f"{c.kind.replace('_', ' ')} {c.key}, revision {known.version + 1 if known else 1}"


@dataclass(frozen=True, kw_only=True)
class Reprint(Command):
    """A label is printed again: an event, never another code."""

    KIND = "label_reprinted"
    NAME = noop("print a label again")

    code: str = scanned(
        "container", "vessel", "tub", "drop_box", "roll", "returnable", "pack", *LABELLED, "oven", "arm", "scale",
        "gauge", "logger", "thermometer",
    )  # fmt: skip
    reason: str = field(default="", metadata={"words": True})

    @staticmethod
    def told(e: Told) -> str:
        return _("Label %(code)s printed again") % {"code": printed(str(e.says.get("code", "")))}


def reprint_facts(c: Reprint, floor: Floor) -> Facts:
    return {"reprint": {"no_reason": not c.reason.strip()}}


@handles(Reprint, reprint_facts)
def reprint(c: Reprint, floor: Floor, rows: Rows) -> str:
    found = floor[c.code]
    if found.unit:
        rows.touch(found.unit.uid, "label reprinted")
    if found.thing:
        rows.resource(found.thing.kind, found.thing.key, "label reprinted")
    return f"label {found.name} printed again"
