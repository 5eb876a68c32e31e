"""manage.py rebuild_readmodels: build every read model anew from the events' bytes, in one transaction."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _

from trace.readmodels.rebuild import rebuild


class Command(BaseCommand):
    help = "Empties the read models and builds them again from the recorded events. Scans wait meanwhile."

    def handle(self, *args: Any, **options: Any) -> None:
        count = rebuild(self._progress)
        self.stdout.write(_("Read models rebuilt from %(count)d events.") % {"count": count})

    def _progress(self, done: int, total: int) -> None:
        self.stderr.write(_("%(done)d of %(total)d events") % {"done": done, "total": total})
