"""Instruments that wait for somebody: overdue for calibration, or found outside their limit and not followed up."""

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes.calibrated import UNITS, worst
from trace.genealogy.calibrations import Calibration, calibrations
from trace.genealogy.causes import read_cause
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.sharing import shared_by
from trace.pages.forms import Act, Before, Form, FormField, Sent, reason_of
from trace.pages.open_lists.listed import Counted, Line, OpenList
from trace.readmodels.apply import GONE
from trace.readmodels.plantdata import Thing, newest
from trace.recording.acts.calibration import Calibrate, FollowUpCalibration, WithdrawCalibration
from trace.recording.acts.scope_holds import HoldScope
from trace.recording.asking_scopes import spread
from trace.recording.commands import Command
from trace.recording.floor.scopes_on_hold import live_scopes
from trace.sheets.addresses import scope_page, unit_url
from trace.sheets.facts.days import day_said
from trace.speech import names_of

HOLD, NOTHING, WRONG = "hold", "nothing", "wrong"
CALIBRATES = frozenset({"maintenance", "quality", "deputy"})
ENTERED = "SELECT min(valid_from) FROM revision WHERE thing = %(thing)s::bigint"
DECIDES = frozenset({"quality", "deputy"})
SHOWN_IN = {"kg": "kg", "mm": "mm", "C": "°C"}


def _overdue() -> list[tuple[datetime, Thing]]:
    """Oldest first; one of which no day is recorded is overdue since it was entered."""
    plant = newest()
    today = plant.calendar.day(timezone.now())
    found = []
    for thing in plant.of_kind("instrument"):
        due = _day(thing.body.get("calibration_due"))
        if not thing.ended and (due is None or due < today):
            # It may be used until the end of its last day.
            after = None if due is None else timezone.make_aware(datetime.combine(due + timedelta(days=1), time()))
            found.append((after or _entered(thing), thing))
    return sorted(found, key=lambda one: (one[0], one[1].key))


def _entered(thing: Thing) -> datetime:
    when: datetime = fetch_rows(ENTERED, {"thing": thing.resource})[0][0]
    return when


def _day(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text)[:10])
    except ValueError:
        return None


def _failed() -> list[Calibration]:
    return [one for one in calibrations() if one.open]


def count() -> Counted:
    since = [when for when, _thing in _overdue()] + [one.recorded for one in _failed()]
    return len(since), min(since, default=None)


def lines(skipped: int, most: int) -> list[Line]:
    """What was found outside its limit first, then what is overdue; oldest first."""
    failed = _failed()
    names = names_of({one.person for one in failed if one.person})
    every = [_failed_line(one, names) for one in failed] + [_overdue_line(*one) for one in _overdue()]
    return every[skipped : skipped + most]


def _failed_line(one: Calibration, names: Mapping[str, str]) -> Line:
    return Line(
        what=_("Found outside its limit: %(key)s") % {"key": one.instrument},
        since=one.recorded,
        codes=((one.instrument, unit_url(one.instrument)),),
        detail=off_said(one),
        who=names.get(one.person, ""),
        stop=True,
        do=_("what it measured"),
        do_url=scope_page(one.cause),
        key=one.uid,
    )


def off_said(one: Calibration) -> str:
    """By how much it was found off where it was worst, and what of that was its limit."""
    point, unit = worst(one.points), SHOWN_IN[_unit(one.instrument)]
    limit = _("its limit is %(limit)s %(unit)s") % {"limit": f"{point.found_limit:f}", "unit": unit}
    off = _("%(off)s %(unit)s off at %(at)s %(unit)s") % {
        "off": f"{point.found_off:+f}", "unit": unit, "at": f"{point.reference:f}",
    }  # fmt: skip
    return f"{off}; {limit if point.found_limit is not None else _('no limit is recorded')}"


def _unit(instrument: str) -> str:
    return UNITS.get(str(newest().body("instrument", instrument).get("kind")), "kg")


def _overdue_line(since: datetime, thing: Thing) -> Line:
    due = thing.body.get("calibration_due")
    said = _("was due on %(day)s") % {"day": day_said(str(due))} if due else _("no calibration is recorded")
    return Line(
        what=_("Overdue for calibration: %(key)s") % {"key": thing.key},
        since=since,
        codes=((thing.key, unit_url(thing.key)),),
        detail=f"{thing.body.get('kind', '')}; {said}",
        key=thing.key,
    )


def line_form(key: str, person: str) -> Form | None:
    """Of one that was found outside its limit: what follows from it; of one that is overdue: its calibration."""
    if newest().get("instrument", key):
        return calibrate_form(key, person)
    one = next((one for one in _failed() if one.uid == key), None)
    if one is None:
        return None
    shared = [line for line in shared_by(read_cause(one.cause)).lines if line.verdict != "cannot"]
    gone = sum((line.place or "").startswith(GONE) for line in shared)
    certain = sum(line.verdict == "certain" for line in shared)
    said = _("Hulls it measured since its last good check: %(n)d (certain %(certain)d, may %(may)d), %(gone)d gone.")
    here = _("Hold the %(n)d that are here, and what is made later that shares it") % {"n": len(shared) - gone}
    return Form(
        "follow", _("What follows from it?"), _("Record it"),
        (
            FormField("does", _("What it measured"), "choice", "", (
                (HOLD, here), (NOTHING, _("Nothing is held")), (WRONG, _("The calibration was entered wrongly")),
            ), required=True),
            FormField("why_words", _("Why"), "words", required=True),
        ),
        about=f"{one.instrument}: {off_said(one)}",
        about_url=scope_page(one.cause),
        hint=said % {"n": len(shared), "certain": certain, "may": len(shared) - certain, "gone": gone},
        before=(Before(_("Entered the calibration"), names_of({one.person}).get(one.person, ""), one.recorded,
                       one.person == person),),
        stop=True,
        key=key,
    )  # fmt: skip


def follow(key: str, sent: Sent) -> Command:
    one = next(one for one in calibrations() if one.uid == key)
    reason = reason_of(sent)
    if sent.get("does") == HOLD:
        return HoldScope(cause=one.cause, reason=reason)
    if sent.get("does") == WRONG:
        return WithdrawCalibration(instrument=one.instrument, calibration=one.uid, reason=reason)
    return FollowUpCalibration(instrument=one.instrument, calibration=one.uid, reason=reason)


def held(command: Command, person: str) -> None:
    """The hulls that share it are named at once."""
    if isinstance(command, HoldScope):
        numbers = [scope.number for scope in live_scopes() if scope.words == command.cause]
        spread(max(numbers), person)


def calibrate_form(key: str, _person: str) -> Form | None:
    """The boxes of a calibration, of this instrument or, where none is named, of one that is chosen."""
    plant = newest()
    every = [thing.key for thing in plant.of_kind("instrument") if not thing.ended]
    if not every:
        return None
    return Form(
        "calibrate", _("Enter a calibration"), _("Record the calibration"),
        (
            FormField("instrument", _("Instrument"), "choice", key if key in every else "", tuple(
                (one, f"{one}, {plant.body('instrument', one).get('kind', '')}") for one in every
            ), required=True),
            FormField("certificate", _("Number of the certificate"), required=True),
            FormField("done", _("Done"), hint=_("2026-02-10 07:20, by the plant's clock; empty: now")),
            FormField(
                "points", _("Reference, as found, as left"), "words", required=True,
                unit=SHOWN_IN[_unit(key)] if key in every else "",
                hint=_("one reference a line: 10.000 9.82 10.00; two figures where it was not adjusted"),
            ),
            FormField("uncertainty", _("Uncertainty of the error, expanded"), "number"),
            FormField("k", _("Its k"), "number", hint=_("as the certificate says it, often 2")),
            FormField("with", _("Reference used"), hint=_("the masses, block or bath, by their numbers")),
            FormField("done_by", _("Who calibrated it")),
            FormField("due", _("Due again on"), hint=_("2027-02-10")),
        ),
        hint=_(
            "Figures as displayed: kg for a scale, mm for a gauge, °C for a logger or a thermometer. A reading that was"
            " off is never changed here: what it means for hulls is decided beside the list."
        ),
        key=key,
    )  # fmt: skip


def calibrate(_key: str, sent: Sent) -> Command:
    rows = [tuple(line.replace(";", " ").split()) for line in sent.get("points", "").splitlines()]
    said: dict[str, Any] = {name: sent.get(name, "") for name in ("uncertainty", "k", "certificate", "due", "done_by")}
    return Calibrate(
        instrument=sent.get("instrument", ""), points=tuple(row for row in rows if row),
        reference=sent.get("with", "")[:60], **said,
    )  # fmt: skip


def done(sent: Sent) -> datetime | None:
    """When it was done; None: now. Raises ValueError with a sentence."""
    text = sent.get("done", "")
    if not text:
        return None
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(_("“%(text)s” is no time: write it as 2026-02-10 07:20.") % {"text": text[:20]}) from None
    return when if timezone.is_aware(when) else timezone.make_aware(when)


INSTRUMENTS = OpenList(
    "instruments", gettext_lazy("Instruments"), gettext_lazy("Found outside their limit, or overdue for calibration"),
    gettext_lazy("No instrument is overdue, and none that was found outside its limit waits for anybody."),
    gettext_lazy("found outside their limit first, then by how long they are overdue"), count, lines,
    acts=(
        Act("follow", "hold", gettext_lazy("deal with it"), line_form, follow, roles=DECIDES, after=held),
        Act("calibrate", "plant data", "", calibrate_form, calibrate, roles=CALIBRATES, when=done),
    ),
    where="stores",
)  # fmt: skip
