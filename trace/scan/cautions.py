"""Which cautions a person has read since signing on: kept in the screen's session, gone with it."""

from hashlib import sha256

from django.http import HttpRequest

from plant.sign_on import current

SESSION = "cautions_read"


def name_of(words: str) -> str:
    """A caution by what it says: in other words it is another one, and is read anew."""
    return sha256(words.encode()).hexdigest()[:12]


def whose(request: HttpRequest) -> str:
    """The sign-on of the person who works here now, "" for nobody."""
    now = current(request)
    return f"{now.person} {now.since.timestamp()}" if now else ""


def unread(request: HttpRequest, words: str) -> bool:
    """Whether the person who works here now has still to read it; never where there is none, or nobody."""
    now = whose(request)
    return bool(words and now) and name_of(words) not in request.session.get(SESSION, {}).get(now, [])


def keep_read(request: HttpRequest, words: str) -> None:
    """It was read: from now on it is one line."""
    now, kept = whose(request), dict(request.session.get(SESSION, {}))
    if words and now:
        request.session[SESSION] = kept | {now: [*kept.get(now, []), name_of(words)]}
