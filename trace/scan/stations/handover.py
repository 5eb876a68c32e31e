"""The end of a shift: what is open on the floor, the leaving lead's notes, the next lead's badge that accepts it."""

from collections.abc import Sequence
from datetime import timedelta

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.codes import printed
from trace.recording.acts.hold_words import reason
from trace.recording.acts.shift_end import SORT_WORDS, AcceptShift, HandOver
from trace.recording.commands import Command
from trace.recording.floor import words as say
from trace.recording.floor.shift_end import ACCEPT_MINUTES, SORTS, Handed, Left, LeftOver, handed, leaving, left_now
from trace.recording.rules.table import BY_CODE
from trace.scan.page import Action, Field, Row
from trace.scan.sight import RECORDS, Home, Next, Sight, Station
from trace.scan.stations.parts import press
from trace.speech import names_of

# Of one sort so many lines stand on a telephone; the lists at the desk have all.
MOST_ROWS = 12


def left(sight: Sight) -> Left:
    if "left" not in sight.looked:
        sight.looked["left"] = left_now()
    found: Left = sight.looked["left"]
    return found


def newest(sight: Sight) -> Handed | None:
    """The shift that was handed over last."""
    if "handed" not in sight.looked:
        sight.looked["handed"] = next(iter(handed(most=1)), None)
    found: Handed | None = sight.looked["handed"]
    return found


def waiting(sight: Sight) -> Handed | None:
    """The shift that was handed over last, while nobody has accepted it."""
    found = newest(sight)
    return found if found and found.accepted is None else None


def fields(sight: Sight) -> tuple[Field, ...]:
    given = waiting(sight)
    if given:
        return (Field("given", "", "hidden", given.uid),)  # what is accepted is what was shown
    hint = _("What the next shift must know and no record says.")
    return (Field("remark", _("Notes for the next shift"), hint=hint),)


def actions(sight: Sight) -> tuple[Action, ...]:
    given = waiting(sight)
    over = press("hand over", _("Hand over the shift"), "plain" if given else "main", below=bool(given), bare=False)
    return (press("accept", _("Accept the shift"), bare=False), over) if given else (over,)


def handing(sight: Sight) -> HandOver:
    shift, begins = leaving(sight.plant.calendar, sight.now)
    minutes = int(str(sight.plant.setting("handover minutes", ACCEPT_MINUTES)))
    due = begins + timedelta(minutes=minutes)
    day = shift.day if shift else sight.plant.calendar.day(sight.now)
    found = left(sight)
    return HandOver(
        shift=shift.name if shift else "", day=day.isoformat(),
        due=due.isoformat(timespec="seconds"), counts=tuple(found.counts[sort] for sort in SORTS),
        remark=sight.text("remark"), **{sort: found.keys(sort) for sort in SORTS},
    )  # fmt: skip


def commands(sight: Sight) -> Sequence[Command] | None:
    if sight.do == "hand over":
        return [handing(sight)]
    if sight.do == "accept":
        given = next(iter(handed(sight.text("given"))), None) if sight.text("given") else newest(sight)
        return [AcceptShift(handover=given.uid if given else "", giver=given.person if given else "")]
    return None


def badge(sight: Sight) -> str:
    """The next lead's badge accepts what waits; that of the one who handed it over only signs on."""
    given = waiting(sight)
    return "accept" if given and given.person != sight.person else ""


def rows(sight: Sight) -> tuple[Row, ...]:
    """The handover that counts, then what is open now, sort by sort, with who did it last and since when."""
    found, given = left(sight), newest(sight)
    people = {one.person for one in found.things} | ({given.person, given.by} if given else set())
    names = names_of(people - {""})
    rows_ = _given(given, names) if given else []
    for sort in SORTS:
        things = found.of(sort)
        count = str(found.counts[sort]) if found.counts[sort] else _("none")
        rows_.append(Row(_(SORT_WORDS[sort]), count, note=True))
        rows_ += [_row(one, names) for one in things[:MOST_ROWS]]
        more = found.counts[sort] - len(things[:MOST_ROWS])
        rows_ += [Row(_("And more"), _("%(n)d further ones") % {"n": more}, note=True)] if more else []
    return tuple(rows_)


def _given(given: Handed, names: dict[str, str]) -> list[Row]:
    shift = _("Shift %(shift)s, %(day)s") % {"shift": given.says["shift"] or "?", "day": given.says["day"]}
    by = _("handed over by %(who)s") % {"who": names.get(given.person, given.person)}
    taken = [
        Row(_("Accepted by %(who)s") % {"who": names.get(given.by, given.by)}, note=True, when=given.accepted)
    ] if given.accepted else [Row(_("Not accepted yet"), _("due by %(when)s") % {"when": due(given)}, note=True)]
    digest = str(given.says.get("remark") or "")
    text = lookup.person_names([digest]).get(digest) if digest else ""
    notes = [Row(_("Notes"), text or _("erased"), note=True)] if digest else []
    return [Row(shift, by, note=True, when=given.when), *notes, *taken]


def due(given: Handed) -> str:
    return say.clock(str(given.says["due"]))


def _row(one: LeftOver, names: dict[str, str]) -> Row:
    name = printed(one.name) if one.sort == "tubs" else one.name
    detail = reason({"why": "", "rule": one.detail}) if one.sort == "holds" and one.detail in BY_CODE else one.detail
    who = names.get(one.person, one.person)
    return Row(f"– {name}", ", ".join(part for part in (detail, who) if part), note=True, when=one.since)


def next_(sight: Sight) -> Next:
    given = waiting(sight)
    if given is None:
        return Next(_("Hand over the shift"), _("What is open goes with it, and your notes below."))
    who = names_of([given.person]).get(given.person, given.person)
    if given.person == sight.person:
        return Next(_("Let the next lead scan their badge here"), _("It was handed over at %(time)s.") % {
            "time": f"{timezone.localtime(given.when):%H:%M}",
        }, "scan")  # fmt: skip
    return Next(_("Scan your badge to accept the shift"), _("From %(who)s") % {"who": who}, "scan")


HANDOVER = Station(
    slug="handover",
    title=gettext_lazy("Shift handover"),
    home=Home(RECORDS, 12, gettext_lazy("Hand over what is open, or accept it with your badge")),
    roles=("lead",),
    readers=("quality", "deputy", "auditor"),
    slots=lambda _sight: (),
    fields=fields,
    commands=commands,
    actions=actions,
    rows=rows,
    next=next_,
    badge=badge,
    half_done=False,
)
