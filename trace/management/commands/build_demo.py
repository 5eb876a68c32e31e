"""Builds the invented plant by recording, in an empty database that was marked demo."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from plant.models import Account
from trace.demo import plant as invented
from trace.demo import story
from trace.demo.season import plant as larger
from trace.demo.season.script import Step
from trace.demo.season.story import SEED, first_day, write
from trace.demo.season.tell import tell
from trace.models import Event, Installation

BAR = 40


class Command(BaseCommand):
    help = "Record the invented plant and its few weeks of hulls (only in an empty database marked demo)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--season", action="store_true", help="a whole year of about 600 mouldings instead")
        parser.add_argument("--seed", type=int, default=SEED, help=f"of the season: another one, another year ({SEED})")
        parser.add_argument(
            "--truth", type=Path, help="where what really happened is written (season-truth.json in the data folder)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not Installation.objects.filter(demo=True).exists():
            raise CommandError(
                "This database is not marked demo: run `manage.py mark_demo` as the migrator, before its first record."
            )
        if Event.objects.exists():
            raise CommandError("This database holds records already: the demo is built into an empty one.")
        with connection.cursor() as cursor:
            # A demo that was broken off is told anew, so nothing of it needs to wait for the disk.
            cursor.execute("SET synchronous_commit = off")
        if options["season"]:
            self._season(options["seed"], options["truth"] or settings.DATA_FOLDER / "season-truth.json")
        else:
            story.build(self._tell)
        self.stdout.write("")
        for key, _, _, _, pin in larger.PEOPLE if options["season"] else invented.PEOPLE:
            account = Account(person=key)
            account.set_password(f"grebe haven {pin}")
            account.pin = make_password(pin)
            account.save(force_insert=True)
        self.stdout.write(f"{Event.objects.count()} records.")

    def _season(self, seed: int, truth: Path) -> None:
        season = write(seed, first_day(timezone.localtime()), timezone.get_current_timezone())
        self.stdout.write(f"A year of {len(season.truth.mouldings)} mouldings, {len(season.steps)} scans:")
        tell(season.steps, self._tell_season)
        season.truth.write(truth)
        self.stdout.write(f"\nWhat really happened, for whoever gives up: {truth}", ending="")

    def _tell(self, done: int, total: int, what: str) -> None:
        self.stdout.write(f"\r{done:3d} of {total} hulls  {what[:50]:50s}", ending="")
        self.stdout.flush()

    def _tell_season(self, done: int, total: int, step: Step) -> None:
        if done % 50 and done != total:
            return
        bar = "█" * (BAR * done // total)
        self.stdout.write(f"\r{bar:░<{BAR}s} {100 * done // total:3d} %  {step.at:%d %b %Y}", ending="")
        self.stdout.flush()
