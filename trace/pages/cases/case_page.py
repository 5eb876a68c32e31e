"""Puts the page of a case together from its events: complaints, suspects, scopes, holds, tests, what was decided."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import connection
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.sign_on import SignedOn
from trace.codes import printed
from trace.drawings import PlanPair
from trace.drawings.time_line import TimeLinePair, time_lines
from trace.genealogy.asked_again import asked_again, digest_of
from trace.genealogy.causes import CauseError, Holds, read_cause
from trace.genealogy.live import held_name, label_now
from trace.genealogy.walk import REGRIND, reach
from trace.lookup import plant_now, stopped_by
from trace.pages.cases.contracts import (
    CaseHold,
    ComplaintLine,
    SaidLine,
    ScopeLine,
    SuspectLine,
    TestLine,
)
from trace.pages.cases.looked_for import drill_way
from trace.pages.cases.ways import way
from trace.pages.open_lists.holds import IN_FORCE
from trace.pages.open_lists.listed import thing_url
from trace.recording.acts.cases import Decide, HoldForCase, KeepScope, RecordTest, TellConsignee
from trace.recording.acts.complaint_words import SUSPECT_STANDS, SYMPTOMS, WAYS, word
from trace.recording.floor.scopes_on_hold import live_scopes
from trace.sheets.addresses import hull_url
from trace.sheets.asked_again import COUNTED, AgainSheet, again_sheet
from trace.sheets.cases.contained import reach_said, scope_holds_of
from trace.sheets.cases.said import at_places, cause_said, gaps_of_case, hull_words, letter, time_rows, use
from trace.sheets.cases.spots import plan_of
from trace.sheets.cases.told import Case, Complaint, HullNow
from trace.sheets.facts.days import day_said
from trace.sheets.facts.entries import Entry
from trace.sheets.facts.known import Known
from trace.sheets.facts.notes import Notes, notes
from trace.speech import names_of

MOST_CHANGED = 50
# The lots of so many hulls are looked through to offer suspects.
MOST_HULLS = 20
MOST_LOTS = 40
HELD = f"""
SELECT h.uid::text, u.kind, (SELECT x.text FROM serial_state x WHERE x.hull = u.id),
  {label_now("l.unit = u.id OR l.carrier = u.carrier")}, u.uid::text, {held_name("u")}, e.happened, e.person, e.why,
  EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND (r.unit IS NULL OR r.unit = h.unit))
FROM hold h JOIN event e ON e.id = h.event JOIN unit u ON u.id = h.unit
WHERE h.uid::text = ANY (%s) AND h.rule NOT LIKE 'scope %%' ORDER BY e.id
"""
# What was laid elsewhere and is in force, the newest first: it can be said to belong to the case. A hold on a scope has
# one for each hull and is shown beside the suspect that it is on.
LAID_ELSEWHERE = f"""
SELECT h.uid::text, {held_name("u")}, n.text, e.happened FROM hold h JOIN event e ON e.id = h.event
JOIN unit u ON u.id = h.unit LEFT JOIN note n ON n.digest = e.why
WHERE {IN_FORCE} AND h.rule NOT LIKE 'scope %%' AND h.uid::text <> ALL (%s) ORDER BY e.id DESC LIMIT 20
"""
LOTS = "SELECT id, lot_no, about->>'material' FROM unit WHERE id = ANY (%s) AND kind = 'lot' AND lot_no IS NOT NULL"


@dataclass(frozen=True)
class Gathered:
    """A case with all that its page names; `person` is who reads it."""

    case: Case
    complaints: Sequence[Complaint]
    hulls: Mapping[str, HullNow]
    known: Known
    words: Notes
    asked: datetime | None
    person: SignedOn

    def hull(self, one: Complaint) -> HullNow | None:
        return self.hulls.get(one.hull or "")

    @property
    def plates(self) -> list[str]:
        """The plates of the hulls that were found, each once."""
        found = [here.serial for one in self.complaints if (here := self.hull(one)) and here.serial]
        return list(dict.fromkeys(found))

    def scope_url(self, words: Iterable[str], as_known_on: datetime | None = None) -> str:
        day = [("as_known_on", as_known_on.isoformat())] if as_known_on else []
        return way(self.person, "scope", [*(("q", one) for one in words), *day])


def complaint_lines(g: Gathered) -> tuple[ComplaintLine, ...]:
    return tuple(_complaint(g, one) for one in g.complaints)


def _complaint(g: Gathered, one: Complaint) -> ComplaintLine:
    says, here = one.says, g.hull(one)
    made = timezone.localtime(here.made).date().isoformat() if here else str(says.get("month") or "")
    through = str(says.get("through") or "")
    return ComplaintLine(
        number=one.number, url=reverse("complaint", args=[one.number]), symptom=word(SYMPTOMS, says["symptom"]),
        hull=here.serial if here else "", hull_url=hull_url(here.serial, g.asked) if here else "",
        plate=str(says.get("plate") or ""), spot=str(says.get("spot") or ""), made=day_said(made),
        mould=str(here.about.get("mould") or "") if here else "",
        sold=day_said(one.day("sold")), failed=day_said(says.get("failed") or ""),
        told=day_said(says.get("reported") or ""), use=use(says),
        through=g.known.place(f"gone: {through}") if through else "",
        words=hull_words(here.about, here.place, g.known) if here else "",
    )  # fmt: skip


def gaps(g: Gathered) -> tuple[str, ...]:
    return gaps_of_case(g.complaints, suspected=bool(g.case.suspects))


def plans(g: Gathered) -> tuple[tuple[str, PlanPair], ...]:
    """A drawing for each model, with the numbers of the complaints at their places."""
    models = {one.number: _model(one, g.hull(one)) for one in g.complaints}
    found = []
    for product, places in at_places(g.complaints, models).items():
        body = plant_now().body("product", product)
        pair = plan_of(body, places, product)
        if pair is not None:
            found.append((str(body.get("name") or product), pair))
    return tuple(found)


def _model(one: Complaint, here: HullNow | None) -> str:
    return str((here.about.get("product") if here else "") or one.says.get("product") or "")


def times(g: Gathered) -> TimeLinePair | None:
    """When each hull was made, sold, failed and told of."""
    return time_lines(time_rows(g.complaints, {uid: here.made for uid, here in g.hulls.items()}))


def suspects(g: Gathered) -> tuple[SuspectLine, ...]:
    return tuple(_suspect(g, n, cause, step) for n, (cause, step) in enumerate(g.case.suspects.items()))


def _held_as_scope(g: Gathered, cause: object) -> str:
    """By whom and since when what shares a cause is held, the hulls made later among it; "" where it is not."""
    scope = next((one for one in live_scopes() if one.cause == cause), None) if g.asked is None else None
    if scope is None:
        return ""
    return _("All that shares it is on hold since %(when)s, %(who)s.") % {
        "when": f"{timezone.localtime(scope.laid):%-d %b %Y %H:%M}", "who": names_of([scope.person])[scope.person],
    }  # fmt: skip


def _suspect(g: Gathered, n: int, cause: tuple[str, ...], step: Entry) -> SuspectLine:
    try:
        parsed = read_cause(cause)
    except CauseError:
        parsed = None
    stands = str(step.says["stands"])
    return SuspectLine(
        letter=letter(n), words=" ".join(cause), said=cause_said(cause), stands=stands,
        stands_words=word(SUSPECT_STANDS, stands), reason=g.words.text(step.says.get("reason")),
        who=g.known.person(step.person), when=step.happened, scope_url=g.scope_url(cause, g.asked),
        recall_url=way(g.person, "recall", [("q", one) for one in cause]),
        drill_url=drill_way(g.person, cause, g.plates),
        code=parsed.code if isinstance(parsed, Holds) else "", held=_held_as_scope(g, parsed) if parsed else "",
    )  # fmt: skip


def scopes(g: Gathered, at: str) -> tuple[ScopeLine, ...]:
    """Kept scopes, the newest last; `at`: the address of the page, to ask one again."""
    letters = {cause: letter(n) for n, cause in enumerate(g.case.suspects)}
    found = []
    for step in g.case.of(KeepScope):
        cause, says = tuple(step.says["cause"]), step.says
        known = datetime.fromisoformat(says["known"])
        found.append(ScopeLine(
            letters.get(cause, ""), cause_said(cause), known, says["certain"], says["may"], says["cannot"],
            g.known.person(step.person), g.scope_url(cause, known), f"{at}?{urlencode({'again': step.uid})}#again",
        ))  # fmt: skip
    return tuple(found)


def again(g: Gathered, uid: str) -> AgainSheet | None:
    """The kept scope of this event asked again, compared with what holds now; None where there is none."""
    step = next((one for one in g.case.of(KeepScope) if one.uid == uid), None)
    if step is None:
        return None
    says = step.says
    found = asked_again(read_cause(says["cause"]), datetime.fromisoformat(says["known"]), g.asked)
    # Those kept before digests were have their counts alone.
    as_kept = all(found.then.count(verdict) == says[verdict] for verdict in COUNTED)
    as_kept = as_kept and says.get("digest", "") in ("", digest_of(found.then))
    return again_sheet(found, cause_said(says["cause"]), as_kept=as_kept, most=MOST_CHANGED)


def holds(g: Gathered) -> tuple[CaseHold, ...]:
    """The holds laid for the case, as they stand now: what each is on, and how many hulls it stops. Those on scopes
    that a suspect is of stand among them, wherever they were laid."""
    with connection.cursor() as cursor:
        cursor.execute(HELD, [[str(step.says["hold"]) for step in g.case.of(HoldForCase)]])
        rows = cursor.fetchall()
    scopes = scope_holds_of(g.case, g.asked or timezone.now())
    reasons = notes([*(row[8] for row in rows), *(scope.why for scope in scopes)])
    people = names_of({person for row in rows if (person := row[7])} | {scope.person for scope in scopes} - {""})
    found = [
        CaseHold(
            on=name, url=thing_url(kind, serial, code, unit), reason=reasons.text(why),
            who=people.get(person or "", ""), when=happened, over=over, stops="" if over else _stops(uid),
            walk_url=_walk(g, uid, over=over),
        )
        for uid, kind, serial, code, unit, name, happened, person, why, over in rows
    ]  # fmt: skip
    found += [
        CaseHold(
            on=scope.on, url=way(g.person, "scope_holds", []), reason=reasons.text(scope.why),
            who=people.get(scope.person, ""), when=scope.laid, over=scope.ended is not None,
            stops="" if scope.ended else reach_said(scope), walk_url=_walk(g, scope.uid, over=scope.ended is not None),
        )
        for scope in scopes
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: one.when))


def _walk(g: Gathered, hold: str, *, over: bool) -> str:
    return "" if over or not hold else way(g.person, "containment", [("hold", hold)])


def laid_elsewhere(g: Gathered) -> tuple[tuple[str, str], ...]:
    """(uid, words) of holds in force that are not the case's."""
    with connection.cursor() as cursor:
        cursor.execute(LAID_ELSEWHERE, [[str(step.says["hold"]) for step in g.case.of(HoldForCase)]])
        rows = cursor.fetchall()
    return tuple(
        (uid, ", ".join(part for part in (name, why, f"{timezone.localtime(happened):%-d %b %H:%M}") if part))
        for uid, name, why, happened in rows
    )


def _stops(hold: str) -> str:
    found = stopped_by(hold)
    if found is None:
        return _("on nothing now")
    said = _("%(here)d stopped here, %(gone)d gone") % {"here": found["here"], "gone": found["gone"]}
    return said if not (found["more"] or found["spreading"]) else _("%(said)s, and more") % {"said": said}


def common_url(g: Gathered) -> str:
    """What do the bad ones share: asked of the hulls that were found."""
    return way(g.person, "common_cause", [("bad", plate) for plate in g.plates]) if g.plates else ""


def tests(g: Gathered) -> tuple[TestLine, ...]:
    return tuple(
        TestLine(
            g.words.text(step.says.get("what")), g.words.text(step.says.get("result")),
            g.words.text(step.says.get("by_whom")), day_said(step.says.get("day") or ""), g.known.person(step.person),
            step.happened,
        )
        for step in g.case.of(RecordTest)
    )  # fmt: skip


def decisions(g: Gathered) -> tuple[SaidLine, ...]:
    return tuple(
        SaidLine(g.words.text(step.says.get("reason")), g.known.person(step.person), step.happened)
        for step in g.case.of(Decide)
    )


def tellings(g: Gathered) -> tuple[SaidLine, ...]:
    return tuple(
        SaidLine(
            g.known.place(f"gone: {step.says['consignee']}"), g.known.person(step.person), step.happened,
            _("%(way)s, %(day)s") % {"way": word(WAYS, step.says["way"]), "day": day_said(step.says["day"])},
            g.words.text(step.says.get("answer")),
        )
        for step in g.case.of(TellConsignee)
    )  # fmt: skip


def lots_of(g: Gathered) -> tuple[tuple[str, str], ...]:
    """What the hulls of the case hold, as suspects to choose from: those in most of them first."""
    units = [here.id for one in g.complaints if (here := g.hull(one))][:MOST_HULLS]
    counted: Counter[int] = Counter()
    for unit in units:
        counted.update(reach([unit], "back", g.asked, stop_roles=REGRIND))
    with connection.cursor() as cursor:
        cursor.execute(LOTS, [sorted(counted)])
        rows = cursor.fetchall()
    said = _("%(material)s lot %(lot)s, in %(n)d of %(all)d")
    ordered = sorted(rows, key=lambda row: (-counted[row[0]], str(row[2]), row[1]))
    return tuple(
        (f"holds={lot}", said % {"material": material, "lot": printed(lot), "n": counted[id_], "all": len(units)})
        for id_, lot, material in ordered[:MOST_LOTS]
        if " " not in lot and not {"(", ")"} & set(lot)
    )
