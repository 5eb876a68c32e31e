"""manage.py check_readmodels: tell where the read models differ from what the events' bytes say; change nothing."""

import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _

from trace.readmodels.rebuild import differences


class Command(BaseCommand):
    help = "Compares the read models with the recorded events. One line per difference; exit code 1 if there is any."

    def handle(self, *args: Any, **options: Any) -> None:
        found = differences(self._progress)
        for line in found:
            self.stdout.write(line)
        if found:
            sys.exit(1)
        self.stdout.write(_("The read models are what the events say."))

    def _progress(self, done: int, total: int) -> None:
        self.stderr.write(_("%(done)d of %(total)d events") % {"done": done, "total": total})
