"""How a logger, a gauge or a thermometer is drawn: checks and calibration on a line, and what it measured since."""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.drawings.strips import WEEKS, Marked, uses_by_week
from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows
from trace.pages.sheets import Drawn
from trace.recording.acts import commands_by_kind
from trace.recording.acts.calibration import Calibrate, FollowUpCalibration, WithdrawCalibration
from trace.recording.acts.setup import Define
from trace.sheets.facts.days import day_said
from trace.sheets.facts.revisions import Revision

Body = Mapping[str, Any]
# Acts that name it, by day; what only says what it is (plant data) measured nothing.
USES = """
SELECT (v.happened AT TIME ZONE %(zone)s::text)::date, v.kind, bool_or(x.role = 'checked'), count(DISTINCT v.id)::int
FROM event_resource x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
WHERE x.resource = %(thing)s::bigint AND v.kind <> ALL (%(apart)s::text[]) GROUP BY 1, 2 ORDER BY 1
"""
NOT_USED = (
    Define.KIND, "labels_printed", "label_reprinted",
    Calibrate.KIND, WithdrawCalibration.KIND, FollowUpCalibration.KIND,
)  # fmt: skip


def drawn_instrument(thing: int, told: Sequence[Revision], asked: datetime | None, at: datetime) -> Drawn:
    """`told`: what was entered of it by then, oldest first."""
    zone = str(timezone.get_default_timezone())
    rows = fetch_rows(USES, {"thing": thing, "known": known_by(asked), "zone": zone, "apart": list(NOT_USED)})
    today = timezone.localdate(at)
    checks = [day for day, _kind, checked, _n in rows if checked]
    uses = [(day, kind, n) for day, kind, checked, n in rows if not checked]
    marks = [*(Marked(day, _("checked")) for day in checks), *_calibrations(told)]
    since = max([mark.day for mark in marks if not mark.dashed and mark.day <= today], default=None)
    measured = Counter[str]()
    for day, kind, n in uses:
        if since is None or day >= since:
            measured[kind] += n
    title = _("Used, checked, calibrated")
    days = [(day, n) for day, _kind, n in uses]
    # One that has long lain idle is drawn up to when it was used last.
    last = max((day for day, _n in days if day <= today), default=today)
    until = today if (today - last).days < 7 * WEEKS else last
    sketch = uses_by_week(days, marks, until, title)
    return Drawn(title, (_("What"), _("When, how often")), tuple(_table(checks, told, measured, since)), sketch=sketch)


def _calibrations(told: Sequence[Revision]) -> list[Marked]:
    """The day on which each new calibration was entered; the day on which the last is due, dashed."""
    found, due = [], None
    for one in told:
        said = _day(one.body.get("calibration_due"))
        if said and said != due:
            found.append(Marked(timezone.localdate(one.valid_from), _("calibration entered")))
        due = said
    return [*found, *([Marked(due, _("calibration due"), dashed=True)] if due else [])]


def _table(
    checks: Sequence[date], told: Sequence[Revision], measured: Counter[str], since: date | None
) -> list[tuple[tuple[str, str], ...]]:
    due = _day(told[-1].body.get("calibration_due")) if told else None
    last = day_said(max(checks).isoformat()) if checks else _("none is recorded: all that it measured is in doubt")
    rows = [(_("last check"), last)]
    rows.append((_("calibration due"), day_said(due.isoformat()) if due else _("not recorded")))
    from_ = _("since %(day)s") % {"day": day_said(since.isoformat())} if since else _("ever")
    acts = commands_by_kind()
    names = {kind: _(acts[kind].NAME) if kind in acts else kind for kind in measured}
    rows += [(f"{names[kind]}, {from_}", str(n)) for kind, n in measured.most_common()]
    if not measured:
        rows.append((_("measured, %(since)s") % {"since": from_}, _("nothing, by the records")))
    return [((what, ""), (said, "")) for what, said in rows]


def _day(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None
