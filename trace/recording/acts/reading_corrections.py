"""Putting a reading right: what a person typed off an instrument stands corrected, beside what was typed first."""

import dataclasses
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels import plantdata
from trace.readmodels.readings import field_of, righted
from trace.readmodels.rows import Rows
from trace.recording.acts import commands_by_kind
from trace.recording.acts.weighing import CHECK_FAILS
from trace.recording.commands import HANDLERS, Command, Facts, Told, handles, scanned, words
from trace.recording.floor import standing
from trace.recording.floor.changes import BEFORE
from trace.recording.floor.read_off import ReadOff, read_off, said_now
from trace.recording.floor.readings import reading
from trace.recording.floor.standing import Floor
from trace.recording.floor.weighed import weighed_about
from trace.recording.rules.engine import Finding, evaluate
from trace.recording.rules.table import TABLE
from trace.recording.told_late.as_it_was import load_then


@dataclass(frozen=True, kw_only=True)
class CorrectReading(Command):
    """A reading was typed wrongly, or never made. of: what it is a reading of. event, n: the record and its number in
    it. value: the right figure as displayed, "" to withdraw it."""

    KIND = "reading_corrected"
    NAME = noop("correct a reading")
    ALONE = True

    of: str = scanned("hull", "moulding", "part", "mould", "scale", "lot", "container", "vessel", "roll")
    event: str
    n: int
    value: str = ""
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        for row in e.part("readings_righted"):
            what = " ".join(part for part in (row["zone"], row["quantity"]) if part)
            now = f"{row['value']} {row['uom']}".strip() if row["value"] is not None else _("never read")
            return _("Reading put right, %(what)s: %(now)s. %(why)s") % {"what": what, "now": now, "why": e.why}
        return _("Reading put right. %(why)s") % {"why": e.why}


def meant(c: CorrectReading, floor: Floor) -> ReadOff | None:
    """The reading that is put right, where there is one of what was scanned."""
    return next((r for r in read_off(floor[c.of]) if (r.event, r.n) == (c.event, c.n)), None)


def _command(kind: str, says: Facts) -> Command:
    """The command that an event was recorded by, out of what it says."""
    made = commands_by_kind()[kind]
    names = {f.name for f in dataclasses.fields(made)}
    return made(**{k: tuple(v) if isinstance(v, list) else v for k, v in says.items() if k in names})


def _judged(c: CorrectReading, floor: Floor, found: ReadOff) -> tuple[str, list[Finding], Facts]:
    """(why the right figure cannot be one, what the rules say of it that they did not say of the one typed first, the
    facts that they were asked about): as of when it was read, by the rules and limits of that time."""
    says = said_now(found.event)
    right = righted(found.kind, says, [{**found.row, "value": c.value.strip() or None}])
    before, now = _facts(found, says, floor), _facts(found, right, floor)
    trouble = str(now.get("typed", {}).get("trouble", ""))
    if trouble:
        return trouble, [], now
    switched = floor.plant.switched()
    known = {f.code for f in evaluate(TABLE, found.kind, before, switched, basic=False)}
    spoke = evaluate(TABLE, found.kind, now, switched, basic=False)
    # A check-weight that fails is only said to fail: the charges are held by the act itself.
    counts = {"hold", "refuse", "warn"} if found.kind == "check_weighed" else {"hold", "refuse"}
    return "", [f for f in spoke if f.code not in known and f.verdict in counts], now


def _facts(found: ReadOff, says: Facts, floor: Floor) -> Facts:
    command = _command(found.kind, says)
    plant = plantdata.as_of(floor.plant, found.when)
    by = dataclasses.replace(floor.by, mode="tells")
    then = Floor(by, plant, found.when, floor.now, standing.read(standing.seek(command, plant)))
    load_then(command, then)
    return HANDLERS[type(command)].facts(command, then)


def reading_facts(c: CorrectReading, floor: Floor) -> Facts:
    found = meant(c, floor)
    way = field_of(found.kind, found.row) if found else None
    trouble, spoke = "", list[Finding]()
    if found is not None and way is not None:
        trouble, spoke, _now = _judged(c, floor, found)
        if found.kind == "check_weighed" and not c.value.strip():
            trouble = "A check-weight is nothing without its figure: type what the scale showed."
    return {
        "typed": {"trouble": trouble},
        "reading": {
            "no_reason": not c.reason.strip(),
            "nothing": way is None,
            "same": found is not None and reading(c.value) == reading(found.row["value"]),
            "outside": bool(spoke),
            "outside_what": " ".join(f.what for f in spoke),
            "outside_why": " ".join(dict.fromkeys(f.why for f in spoke)),
            "name": floor[c.of].name,
        },
    }


@handles(CorrectReading, reading_facts)
def correct_reading(c: CorrectReading, floor: Floor, rows: Rows) -> str:
    found = meant(c, floor)
    assert found is not None  # noqa: S101 - the basic rules have made sure of it
    value = c.value.strip() or None
    rows.reading_righted(found.event, found.n, found.row, value)
    if found.row["unit"]:
        rows.touch(found.row["unit"], "corrected")
    said = f"{found.row['zone'] or ''} {found.row['quantity']}: {value or 'never read'}".strip()
    held = _check_again(c, floor, rows, found) if found.kind == "check_weighed" else []
    return f"{said}; held: {len(held)} charges" if held else said


def _check_again(c: CorrectReading, floor: Floor, rows: Rows, found: ReadOff) -> list[str]:
    """A check-weight counts as what it showed: one that fails holds what was weighed since the scale last passed."""
    scale, facts = floor[c.of].key, _judged(c, floor, found)[2]
    passed = not facts["scale"]["check_fails"]
    rows.instrument(scale, found.when, passed)
    rows.resource("instrument", scale, "corrected")
    # What was recorded first may be a pass, between what was weighed before it and after it.
    around = [] if passed else [found.when - BEFORE, found.when]
    held = list(dict.fromkeys(charge for at in around for charge in weighed_about(scale, at, CHECK_FAILS)))
    for charge in held:
        rows.hold(charge, CHECK_FAILS)
    return held
