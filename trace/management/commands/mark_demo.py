"""Mark an empty database as a demo, where the times at which things were recorded may be set."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils.translation import gettext as _

from trace.models import Installation


class Command(BaseCommand):
    help = "Mark an empty database as a demo; run as the migrator, between migrate and the first record."
    # Nothing here is served, so nothing of the site needs checking first.
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        """Add the one row of `installation`; nothing happens when it is there. CommandError when refused."""
        if settings.ROLE != "migrator":
            raise CommandError(
                _("Only the migrator marks a database: run LOTWRIGHT_ROLE=migrator manage.py mark_demo.")
            )
        if Installation.objects.filter(demo=True).exists():
            return
        with connection.cursor() as cursor:
            cursor.execute("SELECT EXISTS (SELECT FROM event)")
            if cursor.fetchone() == (True,):
                raise CommandError(
                    _("This database has records, so it cannot become a demo: make a new database for it.")
                )
        Installation.objects.create(only=True, demo=True)
