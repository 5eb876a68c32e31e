"""Sessions in the database, as Django keeps them; read by one prepared statement, since every request does."""

from typing import Any

from django.contrib.sessions.backends import db
from django.utils import timezone

from plant.prepared import fetch_rows

READ = "SELECT session_data FROM django_session WHERE session_key = %s::text AND expire_date > %s::timestamptz"


class SessionStore(db.SessionStore):
    """Differs from Django's in how a session is read."""

    def load(self) -> dict[str, Any]:
        if self.session_key is not None:
            for (data,) in fetch_rows(READ, [self.session_key, timezone.now()]):
                return dict(self.decode(data))
        # There is none: what follows from that is Django's to say.
        return dict(super().load())
