"""When the records are checked, how a check goes on slice by slice, and what the last one found."""

from datetime import timedelta
from time import monotonic

from django.db import connection, transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.models import RecordCheck
from trace.readmodels.records import check_rest, check_slice, newest_event

EVERY = timedelta(hours=24)
KEPT_SENTENCES = 100


def check_all() -> RecordCheck:
    """Check everything now, from the first event to the newest, and keep the result.

    One transaction: until it ends nobody else sees this check, so the worker does not go on with it as well.
    """
    with transaction.atomic():
        check = begin()
        while check.ended is None:
            check = _step(check)
    return check


def begin() -> RecordCheck:
    return RecordCheck.objects.create(place=_place(), began=timezone.now(), upto=newest_event())


def is_due() -> bool:
    """True when no check ended within a day, or none began in this database: it was restored from another."""
    last = RecordCheck.objects.order_by("-id").first()
    return last is None or last.place != _place() or (last.ended is not None and last.ended < timezone.now() - EVERY)


def go_on(seconds: float) -> bool:
    """Work on the check that is under way for about so long; False when there is none, or another has it in hand."""
    until = monotonic() + seconds
    with transaction.atomic():
        under_way = RecordCheck.objects.filter(ended=None, place=_place())
        check = under_way.select_for_update(skip_locked=True).order_by("id").first()
        if check is None:
            return False
        while check.ended is None and monotonic() < until:
            check = _step(check)
    return True


def last_ended() -> RecordCheck | None:
    """The last check that came to its end."""
    return RecordCheck.objects.exclude(ended=None).order_by("-id").first()


def sentence(check: RecordCheck) -> str:
    """What a check found, for a person."""
    if not check.differences:
        return _("Every row is what the records say: all %s of them were read again.") % check.events
    found = ngettext(
        "%(count)s row is not what the records say.", "%(count)s rows are not what the records say.", check.differences
    ) % {"count": check.differences}
    return found + " " + _(
        "Somebody has worked on the database past the product. Keep a copy of it as it is, stop recording if holds are "
        "among them, and call whoever looks after the server."
    )  # fmt: skip


def _step(check: RecordCheck) -> RecordCheck:
    """One slice more, or, when all are through, what belongs to no single event."""
    if check.at < check.upto:
        check.at, events, found = check_slice(check.at, check.upto)
        check.events += events
    else:
        found = check_rest()
        check.ended = timezone.now()
    check.differences += len(found)
    check.found = [*check.found, *map(str, found)][:KEPT_SENTENCES]
    check.save()
    return check


def _place() -> str:
    """Tells this database from one that it was restored from."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT (SELECT system_identifier FROM pg_control_system()) || ' ' || oid
                 FROM pg_database WHERE datname = current_database()"""
        )
        return str(cursor.fetchone()[0])
