"""Asks holds on a scope again: what was told late, put right or read of a hull may make more hulls share the cause.

The worker looks every few seconds whether anything was recorded that can change an answer, and asks at most so often
that all of it takes a twentieth of one process. When each was asked last, by whom and after what, stands in its job's
row; what it found is recorded as when somebody asks (SpreadScope).
"""

import time
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4, uuid5

from django.db import connection, transaction
from django.utils import timezone

from trace.genealogy.prepared import fetch_rows
from trace.genealogy.sharing import shared_by
from trace.models import Job
from trace.readmodels.gate import alone
from trace.recording.acts.scope_holds import AT_ONCE, SpreadScope, not_under
from trace.recording.commands import By
from trace.recording.floor.scopes_on_hold import LiveScope, live_scopes
from trace.recording.record import record

KIND = "ask scope again"
# Not asked again sooner than this, nor sooner than SHARE times what asking all of them took.
PAUSE = timedelta(minutes=1)
SHARE = 20
# After so many records it is asked again whatever they are.
MOST_SINCE = 5_000
# What tells nothing of what any hull was made of, by or as, whenever it is told.
NEVER = frozenset({
    "badge_looked_at",
    "calibration_followed_up", "carrier_made", "case_closed", "case_decided", "case_grouped", "case_held",
    "case_opened", "case_reopened", "case_scoped", "case_suspected", "case_tested", "case_told", "complained",
    "complaint_closed", "complaint_tied", "containment_begun", "containment_ended", "containment_seen", "drill_begun",
    "drill_marked", "drill_signed", "erased", "first_off_passed", "held", "hold_released", "holds_read",
    "impact_drop_taken_back", "impact_dropped", "label_reprinted", "machine_checked", "mould_cared",
    "mould_mounted", "mould_taken_off", "paper_taken", "plate_replaced", "plates_back", "plates_made", "plates_out",
    "racked", "recall_begun", "recall_replied", "released", "remoulded", "rewrapped", "scope_held", "scope_put_aside",
    "scope_released", "scope_saved", "scope_spread", "scrapped", "shift_accepted", "shift_handed_over", "shown",
    "stock_count_begun", "stock_count_ended", "stock_seen", "swept", "trained",
})  # fmt: skip
# What is recorded as it happens comes before the plate is bound or leaves with what was judged: Bind, Pack and Dispatch
# ask themselves. Told late it may be behind a hull that was judged without it.
IN_TURN = frozenset({
    "bound", "cook_aborted", "cook_ended", "cook_stage", "cook_started", "cooled", "cut", "demoulded", "dispatched",
    "graphic_placed", "inserts_placed", "mould_closed", "mould_ready", "opening_stock", "packed", "received",
    "stock_scrapped", "tipped", "topped_up", "weighed",
})  # fmt: skip
SINCE = """
WITH since AS MATERIALIZED (
  SELECT kind, kind <> ALL (%(never)s::text[]) AND (kind <> ALL (%(in_turn)s::text[]) OR recorded > happened
      OR corrects IS NOT NULL) AS matters
    FROM event WHERE id > %(seen)s::bigint ORDER BY id LIMIT %(most)s::int)
SELECT (SELECT count(*) FROM since), ARRAY(SELECT DISTINCT kind FROM since WHERE matters ORDER BY kind)
"""


def _nowhere(point: str) -> None:
    """The product breaks off nowhere."""


# Called with the name of each point reached; tests break off there.
fault_point: Callable[[str], None] = _nowhere


@dataclass(frozen=True, slots=True)
class Asked:
    """When a hold on a scope was asked last, by whom ("" the worker), after what kinds of record (of the worker), and
    how many hulls that named. `waits`: it is to be asked again; `error`: why that could not be done."""

    when: datetime | None
    by: str
    because: tuple[str, ...]
    named: int
    waits: bool
    error: str


def _key(number: int) -> str:
    return f"{KIND} {number}"


def last_asked(numbers: Collection[int]) -> dict[int, Asked]:
    """By the number of the hold; one that was never asked through is left out."""
    found = {}
    for job in Job.objects.filter(key__in=[_key(number) for number in numbers]):
        said = job.args
        when = datetime.fromisoformat(said["asked"]) if said.get("asked") else None
        found[int(said["number"])] = Asked(
            when, said.get("by", ""), tuple(said.get("because", ())), said.get("named", 0), job.state != "done",
            job.error,
        )  # fmt: skip
    return found


def look() -> int:
    """Have those asked again that something recorded since may change; how many."""
    scopes = live_scopes()
    jobs = {job.key: job for job in Job.objects.filter(key__in=[_key(scope.number) for scope in scopes])}
    now = timezone.now()
    took = sum(job.args.get("took", 0.0) for job in jobs.values())
    rested = now - max(PAUSE, timedelta(seconds=SHARE * took))
    return sum(_wanted(scope, jobs.get(_key(scope.number)), rested, now) for scope in scopes)


def _wanted(scope: LiveScope, job: Job | None, rested: datetime, now: datetime) -> bool:
    """Whether it is to be asked again from now on, and was not before."""
    if job is None:
        # Whoever laid it asks at once; where that broke off, it is done here.
        if scope.laid > rested:
            return False
        args = {"number": scope.number, "seen": scope.record, "because": []}
        new = {"id": uuid4(), "kind": KIND, "args": args, "made": now, "touched": now}
        return Job.objects.get_or_create(key=_key(scope.number), defaults=new)[1]
    if job.state != "done" or job.touched > rested:
        return False
    because = _since(job.args["seen"])
    if because is None:
        return False
    args = {**job.args, "because": because}
    return bool(Job.objects.filter(id=job.id, state="done").update(state="waiting", args=args, touched=now))


def _since(seen: int) -> list[str] | None:
    """The kinds of records since then that can change an answer; None where nothing can have."""
    values = {"seen": seen, "most": MOST_SINCE, "never": sorted(NEVER), "in_turn": sorted(IN_TURN)}
    ((count, kinds),) = fetch_rows(SINCE, values)
    return list(kinds) if kinds or count >= MOST_SINCE else None


def ask(job: UUID, meanwhile: Callable[[], None]) -> bool:
    """Do one job of this kind; broken off anywhere it is begun again, and names only what is not named yet.
    `meanwhile` is called after each slice of hulls that it names."""

    def between() -> None:
        Job.objects.filter(id=job).update(touched=timezone.now())
        meanwhile()

    if not Job.objects.filter(id=job).exclude(state="done").update(state="under way", touched=timezone.now()):
        return True
    said = Job.objects.values_list("args", flat=True).get(id=job)
    scope = next((one for one in live_scopes() if one.number == said["number"]), None)
    fault_point("taken")
    if scope is not None:
        # Somebody answers for each record: whoever laid the hold.
        by = By(person=scope.person, station="worker", device="worker")
        said = {**said, **_asked(scope, by, tuple(said["because"]), job, between), "by": ""}
    Job.objects.filter(id=job).update(state="done", args=said, error="", touched=timezone.now())
    fault_point("done")
    return True


def spread(number: int, person: str) -> int:
    """Hold every hull that shares the scope as all is known now, a slice at a time, since this person asks; how many
    that named."""
    scope = next((one for one in live_scopes() if one.number == number), None)
    if scope is None:
        return 0
    now = timezone.now()
    said = _asked(scope, By(person=person, station="hold"), (), uuid4(), _nothing)
    args = {"number": number, "because": [], **said, "by": person}
    known = {"kind": KIND, "args": args, "state": "done", "error": "", "touched": now}
    Job.objects.update_or_create(
        key=_key(number), defaults=known, create_defaults={**known, "id": uuid4(), "made": now}
    )
    return int(said["named"])


def _nothing() -> None:
    """Who asks and waits for the answer does nothing else meanwhile."""


def _asked(
    scope: LiveScope, by: By, because: Sequence[str], of: UUID, between: Callable[[], None]
) -> Mapping[str, Any]:
    """Ask it and record what is not under it yet. What was recorded up to `seen` was looked at."""
    began = time.monotonic()
    seen = _newest()
    answer = shared_by(scope.cause)
    hulls = not_under(scope.number, [line.made.uid for line in answer.lines if line.verdict != "cannot"])
    took = time.monotonic() - began
    fault_point("asked")
    for at in range(0, len(hulls), AT_ONCE):
        some = tuple(hulls[at : at + AT_ONCE])
        _name(SpreadScope(number=scope.number, hulls=some, because=tuple(because)), by, uuid5(of, some[0]))
        fault_point("named")
        between()
    return {"seen": seen, "took": round(took, 3), "named": len(hulls), "asked": timezone.now().isoformat()}


def _name(command: SpreadScope, by: By, scan_id: UUID) -> None:
    """Raises ValueError where it is refused: it is tried again, and the hold's page says why."""
    answer = record(command, By(person=by.person, station=by.station, device=by.device, scan_id=scan_id))
    if answer.outcome == "refused":
        raise ValueError(f"{answer.what} {answer.why} {answer.now}")


def _newest() -> int:
    """The newest event of a moment at which no scan is under way: those that come have higher ids."""
    with transaction.atomic():
        alone()
        with connection.cursor() as cursor:
            cursor.execute("SELECT COALESCE(max(id), 0) FROM event")
            return int(cursor.fetchone()[0])
