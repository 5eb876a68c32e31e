"""record(): the one way anything is written. One transaction a scan, its first answer kept for ever.

The order of a scan: lock its id; its first answer if it has one; look up the codes; lock what they stand for in
the fixed order; read what holds; let the rules decide; write the event, its rows, the read models and the scan
with its answer in one call (keep.py). A scan that asks may be refused (the refusal is kept). A scan that tells is
recorded whatever the rules say: flagged, and what it touches is held.
"""

import random
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

from django.db import DatabaseError, IntegrityError, OperationalError, transaction

from plant.errors import Busy, SentBefore
from trace.readmodels import plantdata
from trace.readmodels.rows import Rows
from trace.recording.acts.draws import tolerance
from trace.recording.answers import Answer
from trace.recording.commands import HANDLERS, By, Command
from trace.recording.floor import standing as floors
from trace.recording.floor.moulds import CLOCKS_APART
from trace.recording.rules.base_facts import base_facts
from trace.recording.rules.engine import Finding, evaluate, rule_set
from trace.recording.rules.look_ahead import look_ahead
from trace.recording.rules.table import TABLE, rules_of
from trace.recording.told_late.as_it_was import RunAloneError, as_it_was, as_released, in_doubt, late_codes, load_then
from trace.recording.told_late.replay import replay
from trace.recording.transaction.attempt import Attempt, open_scan, other_asked, same_words, with_digests
from trace.recording.transaction.keeping import keep_conflict, write_all, write_scan_only

# A deadlock victim, or one of two that gave the same new number: nothing is recorded, the scan is tried again, first at
# once, then after rests that are drawn and get longer, so that two do not meet for ever.
TRY_AGAIN_SECONDS = 3.0
LONGEST_REST = 0.2
TRY_AGAIN = ("40P01", "40001", "23505")
# The door takes no time that is more than five seconds old. On a machine that is far behind, the time of an honest scan
# can be: it read the clock so many seconds ago. Tried again it reads it anew.
CLOCK_SECONDS = 5.0
CHECK_FAILED = "23514"


def _nowhere(point: str) -> None:
    """The product breaks off nowhere."""


# Called with the name of each point reached; tests break off there. See tests/recording/test_faults.py.
fault_point: Callable[[str], None] = _nowhere


def record(command: Command, by: By, known: floors.Known | None = None) -> Answer:
    """Carry out one command and return its answer; a replay of the same scan returns the first answer. `known`: what
    the codes were found to stand for in this request.

    Raises SentBefore when the scan id was used for something else (kept in scan_conflict), Busy when
    others were in its way again and again, and lets a database that cannot answer now raise OperationalError: nothing
    was recorded then.
    """
    if command.DECISION:
        by = replace(by, mode="asks")
    attempt = with_digests(command, by, known, fault_point)
    rests = _rests()
    while True:
        began = time.monotonic()
        try:
            with transaction.atomic():
                answer = _record(attempt)
        except (RunAloneError, floors.StaleError) as error:
            attempt = _anew(attempt, error)
            continue
        except (OperationalError, IntegrityError) as error:
            if not _number_taken(error):
                _rest(rests, error, too_slow=time.monotonic() - began >= CLOCK_SECONDS)
                continue
            answer = None
        if answer is None:
            keep_conflict(attempt)
            raise SentBefore
        return answer


def _rest(rests: Iterator[float], error: OperationalError | IntegrityError, *, too_slow: bool) -> None:
    """Return when the scan may be tried again; raise what is in its way when that does not pass."""
    too_slow = too_slow and _sqlstate(error) == CHECK_FAILED
    if _sqlstate(error) not in TRY_AGAIN and not too_slow:
        raise error
    rest = next(rests, None)
    if rest is not None:
        time.sleep(rest)
    elif isinstance(error, IntegrityError) and not too_slow:
        raise error
    else:
        raise Busy from error


def _rests() -> Iterator[float]:
    """How long to rest before each next try: the first two at once, until TRY_AGAIN_SECONDS have passed."""
    until = time.monotonic() + TRY_AGAIN_SECONDS
    yield from (0.0, 0.0)
    longest = 0.01
    while time.monotonic() < until:
        yield random.uniform(0, longest)  # noqa: S311 - nothing secret
        longest = min(2 * longest, LONGEST_REST)


def _anew(attempt: Attempt, error: Exception) -> Attempt:
    """The same again, with the gate held alone or with its codes looked up anew."""
    return replace(attempt, alone=True) if isinstance(error, RunAloneError) else replace(attempt, known=None)


def _sqlstate(error: DatabaseError) -> str:
    return str(getattr(error.__cause__, "sqlstate", ""))


def _number_taken(error: DatabaseError) -> bool:
    """True when another scan of this installation already has its number."""
    found = getattr(getattr(error.__cause__, "diag", None), "constraint_name", None)
    return found == "scan_seq"


def _record(a: Attempt) -> Answer | None:
    a.reach("before_lock")
    first, revision = open_scan(a)
    if first is not None:
        same = first[0] == a.fingerprint and same_words(a)
        return Answer.again(first[1]) if same else None
    if other_asked(a):
        return None
    plant = plantdata.current(revision)
    if a.by.mode == "tells" and a.by.happened:
        # What is told late is judged by the recipes, limits and rules of its own time.
        plant = plantdata.as_of(plant, a.by.happened)
    sought = floors.seek(a.command, plant, a.known)
    clock = floors.lock(sought)
    a.reach("after_lock")
    now = a.by.recorded or clock
    found = floors.read(sought)
    if a.command.LOCKS_WAITING and floors.lock_waiting(found):
        found = floors.read(sought)
    # Nothing happens later than it is recorded: a clock that is ahead would hide what others do meanwhile.
    floor = floors.Floor(a.by, plant, min(a.by.happened or now, now), now, found)
    _turn_back(a, floor)
    return _judge(a, floor, plant)


def _turn_back(a: Attempt, floor: floors.Floor) -> None:
    """What is told late is judged by the floor as it was when it happened, and may rewrite what followed."""
    late = late_codes(a.command, floor) if floor.happened < floor.now else []
    if late:
        _need_alone(a)
        as_it_was(a.command, floor, late)
    if a.by.mode == "tells" and floor.now - floor.happened > CLOCKS_APART:
        as_released(a.command, floor)
    if a.by.mode == "tells" and load_then(a.command, floor):
        _need_alone(a)
    if a.by.unsure_ms:
        in_doubt(a.command, floor)


def _judge(a: Attempt, floor: floors.Floor, plant: plantdata.Directory) -> Answer:
    """Asks the rules; a refusal of what asks is kept as a scan, everything else is recorded."""
    if a.by.ahead:
        findings, _facts = look_ahead(a.command, floor, a.by.ahead, plant.switched())
    else:
        findings = _decide(a, floor)
    in_force = rule_set(TABLE, plant.switched())
    refused = [f for f in findings if f.verdict == "refuse" and not _overridden(f, a, floor)]
    if refused and a.by.mode == "asks":
        answer = Answer.refused(refused[0], findings, in_force)
        write_scan_only(a, answer, floor.now)
        return answer
    if a.by.ahead:
        return Answer("accepted", rules=in_force)
    return _accept(a, floor, findings, refused, in_force)


def _need_alone(a: Attempt) -> None:
    if not a.alone:
        raise RunAloneError(a.command.KIND)


def _decide(a: Attempt, floor: floors.Floor) -> list[Finding]:
    """What the rules say: the basic ones first, and only when they are silent the rest."""
    switched = floor.plant.switched()
    facts = base_facts(a.command, floor)
    # What every scan needs (codes that can be read, a time that has come) before anything else can be asked.
    findings = evaluate(rules_of(""), "", facts, switched, basic=True)
    if findings:
        return findings
    facts |= HANDLERS[type(a.command)].facts(a.command, floor)
    return evaluate(rules_of(a.command.KIND), a.command.KIND, facts, switched)


def _overridden(finding: Finding, a: Attempt, floor: floors.Floor) -> bool:
    """True when the person's role may let this rule pass, and gave a reason. Fixed rules name no roles."""
    roles = set(floor.plant.body("person", a.by.person).get("roles", []))
    return bool(a.by.overrides.get(finding.code)) and bool(roles & set(finding.override))


def _accept(
    a: Attempt,
    floor: floors.Floor,
    findings: list[Finding],
    refused: list[Finding],
    in_force: str,
) -> Answer:
    rows = Rows()
    recorded = _act(a, floor, rows, [f for f in refused if f.basic])
    held = [f for f in findings if f.verdict == "hold"] + refused
    made = _what_it_made(rows, floor) if held else []
    for finding in refused:
        if not finding.basic:
            rows.discrepancy(f"told, but: {finding.code}", next(iter(made), None))
    for unit in made:
        rows.hold(unit, held[0].code)
    new = {u["uid"] for u in rows.parts.get("units", [])}
    if any(h["unit"] not in new for h in rows.parts.get("holds", [])):
        # What is under a hold from now on may be in use by another scan at this moment.
        _need_alone(a)
    overrides = {f.code: a.by.overrides[f.code] for f in findings if _overridden(f, a, floor) and f.verdict == "refuse"}
    answer = Answer.accepted(recorded, findings, held, overrides, in_force, rows)
    write_all(a, floor, rows, answer, in_force, overrides)
    return answer


def _act(a: Attempt, floor: floors.Floor, rows: Rows, basic: list[Finding]) -> str:
    """Fills the rows with what the event does; with nothing but a question where even the basic rules speak."""
    if not basic:
        recorded = HANDLERS[type(a.command)].act(a.kept, floor, rows)
        if floor.changes:
            _need_alone(a)
            replay(rows, floor.changes, partial(tolerance, floor), floor.now)
        return recorded
    known = [unit.uid for found in floor.found.values() for unit in (found.load, found.unit) if unit is not None]
    rows.discrepancy(f"told, but: {basic[0].code}", next(iter(known), None))
    # It stands in the history of what of it is known.
    for unit in known:
        rows.touch(unit, "told")
    return "told, but it could not be placed"


def _what_it_made(rows: Rows, floor: floors.Floor) -> list[str]:
    """What a flagged fact holds: the units it made (not packs' insides), else the hull, moulding or load it is of."""
    made = [
        u["uid"]
        for u in rows.parts.get("units", [])
        if u["kind"] not in ("plate", "lot") and u["uid"] not in rows.remade
    ]
    if made:
        return made
    return _touched(rows) or _about(floor)


def _touched(rows: Rows) -> list[str]:
    """What a correction is about was scanned long ago: something else may be in the same mould or tub by now. A count
    is of what was in its carrier. What a replay made anew stands for what was corrected or counted."""
    now = {old: new for new, old in rows.remade.items()}
    touched = [row["unit"] for row in rows.parts.get("touches", []) if row["role"] in ("corrected", "counted")]
    return list(dict.fromkeys(now.get(unit, unit) for unit in touched))


def _about(floor: floors.Floor) -> list[str]:
    about: list[str] = []
    for found in floor.found.values():
        if found.load is not None:
            about.append(found.load.uid)
        elif found.hull is not None:
            about.append(found.hull.uid)
        elif found.unit is not None and found.unit.kind in ("moulding", "part", "pack", "charge", "load"):
            about.append(found.unit.uid)
    return list(dict.fromkeys(about))
