"""The errors a person may meet, each with a code, one sentence for what, why and what now, and a status.

PlantError
├── NotUnderstood   400  the request cannot be read
│   └── SentBefore  400  its number was sent before with something else in it
├── NotSignedIn     401  nobody is signed on at this screen
├── NotAllowed      403  the person's roles do not include this
│   └── StaleForm   403  the form is older than the sign-in it was made for
├── NotThere        404  no such address, or nothing of that name
├── NotThatWay      405  the address exists, the method does not
├── TooLarge        413  more was sent than is taken at once
├── NotThisKind     415  sent as a kind of content the address does not take
│   └── OtherCharset 415  its text is not UTF-8
├── TooWide         422  what is asked for has no end that one answer could hold
├── TooMany         429  more often than is answered in this time
├── Broken          500  a fault of the software; logged with its trace, shown without
└── TryAgain        503  nothing is wrong with what was sent; the same again will do
    ├── DatabaseAway     the database does not answer, or only reads just now
    ├── NotYetGuarded    it was not found yet to guard its records
    ├── Busy             a lock was waited for too long, or two scans waited for each other
    └── DiskFull         there is no room to write
"""

import errno
from typing import Any

import psycopg
from django.contrib.sessions.exceptions import SessionInterrupted
from django.core.exceptions import (
    BadRequest,
    PermissionDenied,
    RequestDataTooBig,
    SuspiciousOperation,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.db import DatabaseError, InterfaceError, OperationalError
from django.http import Http404, UnreadablePostError
from django.http.multipartparser import MultiPartParserError
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

Words = str | Promise


class PlantError(Exception):
    """One error. `what`, `why` and `now` are sentences or empty; retry_seconds > 0 says when to come back."""

    code: str = "broken"
    status: int = 500
    what: Words = _("The software failed here.")
    why: Words = _("What went wrong is in the server's log.")
    now: Words = _("Try once more; if it fails again, call the person who looks after this software.")
    retry_seconds: int = 0

    def __init__(self, what: Words = "", why: Words = "", now: Words = "", *, retry_seconds: int = 0) -> None:
        super().__init__(self.code)
        self.what, self.why, self.now = what or self.what, why or self.why, now or self.now
        self.retry_seconds = retry_seconds or self.retry_seconds

    def said(self) -> dict[str, Any]:
        """The error for other systems: {"code", "status", "what", "why", "now"}, all words as text."""
        return {
            "code": self.code,
            "status": self.status,
            "what": str(self.what),
            "why": str(self.why),
            "now": str(self.now),
        }


class NotUnderstood(PlantError):
    code = "not-understood"
    status = 400
    what = _("This request cannot be read.")
    why = _("It was cut short on its way, or it was not made by one of these pages.")
    now = _("Nothing was recorded: go back and send it again.")


class SentBefore(NotUnderstood):
    code = "sent-before"
    what = _("This form was sent before with something else in it.")
    why = _("One form records one thing; the first answer stands and this one was not recorded.")
    now = _("Open the page anew.")


class NotSignedIn(PlantError):
    code = "not-signed-in"
    status = 401
    what = _("Nobody is signed on at this screen.")
    why = _("It stood unused for too long, or nobody signed on yet.")
    now = _("Nothing was recorded: sign on and do it again.")


class NotAllowed(PlantError):
    code = "not-allowed"
    status = 403
    what = _("This is not among the tasks of the person signed on.")
    why = _("Each role has its own pages and stations.")
    now = _("Ask a person whose task it is, or have the plant administrator look at the roles.")


class StaleForm(NotAllowed):
    code = "stale-form"
    what = _("This form is too old to be sent.")
    why = _("It was made before somebody signed on here, or the browser keeps no cookies.")
    now = _("Nothing was recorded: open the page again and repeat the entry.")


class NotThere(PlantError):
    code = "not-there"
    status = 404
    what = _("There is no such page.")
    why = _("The address or the code in it is not one of this plant.")
    now = _("Check it, or search for a part of the code.")


class NotThatWay(PlantError):
    code = "not-that-way"
    status = 405
    what = _("This page cannot be used in that way.")
    why = _("The address exists, but it does not take this kind of request.")
    now = _("Open it from the first page.")


class TooLarge(PlantError):
    code = "too-large"
    status = 413
    what = _("Too much was sent at once.")
    why = _("A request may hold about 2.5 MB and a limited number of fields.")
    now = _("Nothing was recorded: send a smaller picture or fewer records at a time.")


class NotThisKind(PlantError):
    code = "not-this-kind"
    status = 415
    what = _("This kind of content is not taken here.")
    why = _("The address takes other content than was sent.")
    now = _("Nothing was recorded: send it as the interface's description says.")


class OtherCharset(NotThisKind):
    code = "other-charset"
    what = _("The text of this request is in another character set.")
    why = _("Text is taken in UTF-8 only.")
    now = _("Nothing was recorded: send it again in UTF-8.")


class TooWide(PlantError):
    code = "too-wide"
    status = 422
    what = _("More was made of this than one answer tells.")
    why = _("Nobody shall wait, or run out of memory, for an answer that has no end.")
    now = _("Ask for one of its containers or charges, or open the page of the lot, which tells it in numbers.")


class TooMany(PlantError):
    code = "too-many"
    status = 429
    what = _("Too many requests came from this address.")
    why = _("Only so many are answered in a minute.")
    now = _("Wait a minute and try again.")
    retry_seconds = 60


class Broken(PlantError):
    pass


class TryAgain(PlantError):
    code = "try-again"
    status = 503
    what = _("This could not be done just now.")
    why = _("The server is busy with something else.")
    now = _("Nothing was lost; press again.")
    retry_seconds = 5


class DatabaseAway(TryAgain):
    code = "database-away"
    why = _("The database does not answer at the moment.")
    retry_seconds = 2


class NotYetGuarded(DatabaseAway):
    code = "not-yet-guarded"
    why = _("The database does not answer, or does not guard its records; the server's log says which.")


class Busy(TryAgain):
    code = "busy"
    why = _("Somebody else is writing about the same thing.")
    retry_seconds = 2


class DiskFull(TryAgain):
    code = "disk-full"
    why = _("The server's disk is full, so nothing can be written; reading still works.")
    now = _("Nothing was lost; call the person who looks after the server, then press again.")
    retry_seconds = 30


# SQLSTATE codes of the PostgreSQL manual, appendix A: what passes by itself when the same is sent again.
BUSY = {"55P03", "40P01", "40001", "57014", "53300"}
FULL = {"53100"}
# It is being shut down, crashed, is recovering, or is a copy that only reads until it takes over.
GONE = {"57P01", "57P02", "57P03", "25006"}
AWAY = (OperationalError, InterfaceError, psycopg.OperationalError, psycopg.InterfaceError)


# What others raise and the error shown for it; the first that fits counts.
FORESEEN: tuple[tuple[type[BaseException], type[PlantError]], ...] = (
    (Http404, NotThere),
    (PermissionDenied, NotAllowed),
    (RequestDataTooBig, TooLarge),
    (TooManyFieldsSent, TooLarge),
    (TooManyFilesSent, TooLarge),
    (SuspiciousOperation, NotUnderstood),
    (BadRequest, NotUnderstood),
    (MultiPartParserError, NotUnderstood),
    (UnreadablePostError, NotUnderstood),
)


def error_from(raised: BaseException | None) -> PlantError:
    """The error to show for whatever was raised; Broken for anything not foreseen."""
    if isinstance(raised, PlantError):
        return raised
    if isinstance(raised, SessionInterrupted):
        return _session_error(raised)
    for kind, error in FORESEEN:
        if isinstance(raised, kind):
            return error()
    if isinstance(raised, OSError) and raised.errno in {errno.ENOSPC, errno.EDQUOT}:
        return DiskFull()
    return _database_error(raised) or Broken()


def error_of_status(status: int) -> PlantError:
    """The error to show for a bare answer with this status, such as Django's own 405."""
    kinds = (NotUnderstood, NotSignedIn, NotAllowed, NotThere, NotThatWay, TooLarge, NotThisKind, TooMany)
    found = next((kind for kind in kinds if kind.status == status), None)
    if found is not None:
        return found()
    return TryAgain() if status == TryAgain.status else Broken() if status >= 500 else NotUnderstood()


def _session_error(raised: BaseException) -> PlantError:
    """Django says that the session was deleted whatever kept it from being stored; behind that is what happened. The
    scan may be recorded then: sent again under its number it is answered as it was.
    """
    behind: BaseException | None = raised
    while behind is not None:
        found = _database_error(behind)
        if found is not None:
            return found
        behind = behind.__cause__ or behind.__context__
    return NotSignedIn()


def _database_error(raised: BaseException | None) -> PlantError | None:
    cause = raised.__cause__ if isinstance(raised, DatabaseError | InterfaceError) else raised
    state = cause.sqlstate if isinstance(cause, psycopg.Error) else None
    if state in BUSY:
        return Busy()
    if state in FULL:
        return DiskFull()
    return DatabaseAway() if state in GONE or isinstance(raised, AWAY) else None
