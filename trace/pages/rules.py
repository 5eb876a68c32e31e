"""What this plant refuses, warns of and why: the rules in force, how often each spoke, and who switched what."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.access import allowed, role_words
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import current
from trace.codes import uuid7
from trace.pages.asked import form_number
from trace.pages.lists import RuleGroup, RuleLine, RulesPage, SettingLine
from trace.readmodels.plantdata import Directory, newest
from trace.recording.acts import commands_by_kind
from trace.recording.acts.setup import Define
from trace.recording.commands import By
from trace.recording.record import record
from trace.recording.rules.engine import Rule, as_switched, rule_set
from trace.recording.rules.table import BY_CODE, BY_STATION, TABLE
from trace.speech import names_of, speak

COUNTED_DAYS = 90
COUNTS = """
SELECT f->>'code', count(*), count(*) FILTER (WHERE f->>'overridden' = 'yes'),
  count(*) FILTER (WHERE s.outcome = 'flagged' AND f->>'verdict' IN ('refuse', 'hold') AND f->>'overridden' IS NULL)
FROM scan s, jsonb_array_elements(s.answer::jsonb->'found') AS f
WHERE s.reason IS NOT NULL AND s.received >= %s GROUP BY 1
"""
# Where a refusal was right nobody says; but where the next scan at that screen is of the same kind, another, recorded
# and without an override, somebody had something wrong in hand.
LOOKED_AT = 20_000
HEEDED = """
SELECT t.reason, count(*) FROM (
  SELECT s.outcome, s.reason, s.raw, s.fingerprint, lead(s.event) OVER w AS event, lead(s.raw) OVER w AS then,
    lead(s.fingerprint) OVER w AS other
  FROM (SELECT * FROM scan WHERE received >= %s ORDER BY id DESC LIMIT %s) s
  WINDOW w AS (PARTITION BY s.device ORDER BY s.id)) t
JOIN event e ON e.id = t.event
WHERE t.outcome = 'refused' AND e.kind = t.raw::jsonb->>'kind' AND t.other <> t.fingerprint
  AND position('"overrides":[]' IN t.then) > 0 GROUP BY 1
"""
SWITCHED = """
SELECT r.key, v.body::jsonb->>'value', e.happened, e.person FROM resource r JOIN revision v ON v.thing = r.id
JOIN event e ON e.id = v.event WHERE r.kind = 'setting' AND r.key LIKE 'rule:%%' ORDER BY e.id DESC LIMIT 200
"""
Switch = tuple[str, str, datetime, str | None]
# In the order material goes through the plant; what a reading of a code comes down to is the same everywhere and last.
STATIONS = {
    "goods in": gettext_lazy("Goods in, certificate, release"),
    "sources": gettext_lazy("Whatever something is taken from"),
    "weighing": gettext_lazy("Weigh, check weight"),
    "tubs": gettext_lazy("A weighed tub for something else"),
    "ways out": gettext_lazy("Scrap, sample, give back"),
    "loading": gettext_lazy("Load"),
    "mould care": gettext_lazy("Mould care, changeover, first-off"),
    "oven": gettext_lazy("Oven, pre-use check"),
    "binding": gettext_lazy("Demould, plates"),
    "finishing": gettext_lazy("Inspect, hold, scrap"),
    "gate": gettext_lazy("Pack, rack, dispatch"),
    "returns": gettext_lazy("Returns"),
    "repairs": gettext_lazy("Repairs"),
    "containment": gettext_lazy("Containment walks"),
    "shift end": gettext_lazy("Shift handover"),
    "stock counts": gettext_lazy("Stock count"),
    "desk": gettext_lazy("Correct, count, plant data"),
    "complaints": gettext_lazy("Complaints, cases"),
    "impact": gettext_lazy("Impact test"),
    "instruments": gettext_lazy("Calibrations"),
    "owners": gettext_lazy("Owners"),
    "recalls": gettext_lazy("Recalls, drills"),
    "people": gettext_lazy("Who may do the work"),
    "every scan": gettext_lazy("Every scan: codes, figures, times"),
}
VERDICTS = ("refuse", "hold", "warn", "off")


@dataclass(frozen=True, slots=True)
class LookedFor:
    """What is looked for among the rules: words that a rule must say, its part of the plant, what it says now."""

    words: str = ""
    station: str = ""
    verdict: str = ""

    def finds(self, station: str, rule: RuleLine) -> bool:
        said = f"{rule.code} {rule.sentence} {rule.guards} {STATIONS[station]}".casefold()
        return (
            self.station in ("", station)
            and self.verdict in ("", rule.verdict)
            and all(word in said for word in self.words.casefold().split())
        )

    @property
    def anything(self) -> bool:
        return bool(self.words or self.station or self.verdict)


def rules(request: HttpRequest) -> HttpResponse:
    """Context: rules (trace.pages.lists.RulesPage). `q`, `at` and `now` look for rules (LookedFor); `change` opens a
    rule's form. POST switches one rule: code, verdict, scan_id.

    Raises NotThere for a rule that does not exist.
    """
    said = error = ""
    changing = request.GET.get("change", "")
    if request.method == "POST":
        said, error = switch(request)
        changing = request.POST.get("code", "") if error else ""
    if changing and changing not in BY_CODE:
        raise NotThere(what=_("There is no rule of that name."))
    person = current(request)
    may = person is not None and allowed(person.roles, "rules", "POST", tasks=person.tasks)
    looked_for = LookedFor(
        request.GET.get("q", "").strip()[:60],
        next((s for s in STATIONS if s == request.GET.get("at")), ""),
        next((v for v in VERDICTS if v == request.GET.get("now")), ""),
    )
    page = rules_page(
        newest(), looked_for, changing=changing if may else "", may_change=may, said=said, error=error
    )  # fmt: skip
    return render(request, "pages/rules.html", {"rules": page}, status=409 if error else 200)


def switch(request: HttpRequest) -> tuple[str, str]:
    """Record the change; (what was recorded, the sentence of a refusal)."""
    person = current(request)
    code, verdict = request.POST.get("code", ""), request.POST.get("verdict", "")
    scan_id = form_number(request.POST)
    if person is None or code not in BY_CODE:
        raise NotUnderstood
    answer = record(
        Define(kind="setting", key=f"rule:{code}", body={"value": verdict}),
        By(person=person.person, station="rules", scan_id=scan_id),
    )
    if answer.outcome == "refused":
        return "", speak(f"{answer.what} {answer.why} {answer.now}")
    return _("%(code)s: %(verdict)s from now on.") % {"code": code, "verdict": verdict_word(verdict)}, ""


def rules_page(
    plant: Directory,
    looked_for: LookedFor = LookedFor(),
    *,
    changing: str = "",
    may_change: bool = False,
    said: str = "",
    error: str = "",
) -> RulesPage:
    """The rules as they stand; five queries whatever their number."""
    switched = plant.switched()
    history = _history()
    names = names_of(who for *_rest, who in history if who)
    since = timezone.now() - timedelta(days=COUNTED_DAYS)
    with connection.cursor() as cursor:
        cursor.execute(COUNTS, [since])
        counts = {code: (fired, overridden, flagged) for code, fired, overridden, flagged in cursor.fetchall()}
        cursor.execute(HEEDED, [since, LOOKED_AT])
        heeded = dict(cursor.fetchall())
    last: dict[str, Switch] = {}
    for change in history:
        last.setdefault(change[0].removeprefix("rule:"), change)
    newest_change = max((change[2] for change in history), default=None)
    lines = {
        rule.code: replace(
            _line(rule, counts.get(rule.code, (0, 0, 0)), last.get(rule.code), names, may_change),
            heeded=heeded.get(rule.code, 0),
        )
        for rule in as_switched(TABLE, switched)
    }
    return RulesPage(
        in_force=_("as set on %(day)s") % {"day": f"{timezone.localtime(newest_change):%-d %b %Y %H:%M}"}
        if newest_change
        else _("as delivered"),
        since=_("of the last %(days)d days") % {"days": COUNTED_DAYS},
        groups=tuple(_groups(lines, looked_for, changing)),
        asked=looked_for.words,
        station=looked_for.station,
        verdict=looked_for.verdict,
        stations=tuple((station, str(words)) for station, words in STATIONS.items()),
        verdicts_now=tuple((v, verdict_word(v)) for v in VERDICTS),
        count=len(TABLE),
        name=rule_set(TABLE, switched),
        history=tuple(
            SettingLine(when, key.removeprefix("rule:"), verdict_word(value), names.get(who or "", who or ""))
            for key, value, when, who in history
        ),
        changing=changing,
        verdicts=tuple((v, verdict_word(v)) for v in VERDICTS) if changing else (),
        scan_id=str(uuid7()) if changing else "",
        said=said,
        error=error,
    )


def _groups(lines: Mapping[str, RuleLine], looked_for: LookedFor, changing: str) -> Iterable[RuleGroup]:
    """The rules found, by their part of the plant; open where one was looked for or is about to be switched."""
    for station, words in STATIONS.items():
        found = tuple(
            lines[rule.code]
            for rule in BY_STATION[station]
            if rule.code == changing or looked_for.finds(station, lines[rule.code])
        )
        if found:
            opened = looked_for.anything or any(rule.code == changing for rule in found)
            yield RuleGroup(str(words), found, opened)


def _history() -> list[Switch]:
    with connection.cursor() as cursor:
        cursor.execute(SWITCHED)
        found: list[Switch] = cursor.fetchall()
        return found


def verdict_word(verdict: str) -> str:
    words = {
        "refuse": _("refuse"), "hold": _("record and hold"), "warn": _("warn"), "off": _("off"),
    }  # fmt: skip
    return words.get(verdict, verdict)


def _line(
    rule: Rule, counts: tuple[int, int, int], change: Switch | None, names: Mapping[str, str], may_change: bool
) -> RuleLine:
    set_by = _("as delivered")
    if rule.fixed:
        set_by = _("fixed")
    elif change:
        who = names.get(change[3] or "", change[3] or "")
        set_by = f"{who}, {timezone.localtime(change[2]):%-d %b %Y}"
    return RuleLine(
        code=rule.code,
        guards=guards(rule.guards),
        sentence=sentence(rule),
        verdict=rule.verdict,
        set_by=set_by,
        who_may_override=", ".join(role_words(role) for role in rule.override),
        fired=counts[0],
        overridden=counts[1],
        flagged=counts[2],
        change_url=f"?change={rule.code}#{rule.code}" if may_change and not rule.fixed else "",
        fixed=rule.fixed,
    )


def sentence(rule: Rule) -> str:
    """What · why · what now, facts by their names: "{box[name]} is empty" → "‹box› is empty"."""
    spoken = " · ".join(part.rstrip(".") for part in (rule.what, rule.why, rule.now) if part)
    return _named(spoken)


# A fact that names the thing itself is called by the thing.
OF_ITSELF = ("", "key", "name", "code", "text", "which")


def _named(text: str) -> str:
    parts, rest = [], text
    while "{" in rest:
        before, _brace, after = rest.partition("{")
        fact, _brace, rest = after.partition("}")
        thing, _bracket, field = fact.partition("[")
        name = field.rstrip("]").removesuffix("_which").replace("_", " ")
        parts += [before, f"‹{thing if name in OF_ITSELF else name}›"]
    return "".join([*parts, rest])


def guards(kinds: Iterable[str]) -> str:
    """The acts a rule looks at, in words."""
    every = commands_by_kind()
    return ", ".join(_("every scan") if kind == "*" else _(every[kind].NAME) for kind in kinds)
