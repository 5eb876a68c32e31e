"""Builds the invented plant by recording, in an empty database that was marked demo."""

from typing import Any

from django.contrib.auth.hashers import make_password
from django.core.management.base import BaseCommand, CommandError

from plant.models import Account
from trace.demo import plant as invented
from trace.demo import story
from trace.models import Event, Installation


class Command(BaseCommand):
    help = "Record the invented plant and its few weeks of hulls (only in an empty database marked demo)."

    def handle(self, *args: Any, **options: Any) -> None:
        if not Installation.objects.filter(demo=True).exists():
            raise CommandError(
                "This database is not marked demo: run `manage.py mark_demo` as the migrator, before its first record."
            )
        if Event.objects.exists():
            raise CommandError("This database holds records already: the demo is built into an empty one.")
        story.build(self._tell)
        self.stdout.write("")
        for key, _, _, _, pin in invented.PEOPLE:
            account = Account(person=key)
            account.set_password(f"grebe haven {pin}")
            account.pin = make_password(pin)
            account.save(force_insert=True)
        self.stdout.write(f"{Event.objects.count()} records.")

    def _tell(self, done: int, total: int, what: str) -> None:
        self.stdout.write(f"\r{done:3d} of {total} hulls  {what[:50]:50s}", ending="")
        self.stdout.flush()
