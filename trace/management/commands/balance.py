"""manage.py balance: the mass balance of a lot, container or vessel, as known on a day."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from trace.genealogy.balance.documents import as_lines, as_text
from trace.genealogy.balance.subjects import balance_of
from trace.genealogy.day import DayError, moment


class Command(BaseCommand):
    help = "What came of it, where it is now, what is missing, and whether weighing explains that."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("code", help="a lot number, or the label of a container or vessel")
        parser.add_argument(
            "--as-known-on",
            metavar="ISO",
            help="a date (to its end, in the plant's time zone) or a time such as 2026-06-09T14:00:00+01:00",
        )
        parser.add_argument("--json", action="store_true", help="the document other systems rely on")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            known = options["as_known_on"]
            balance = balance_of(options["code"], moment(known) if known else None)
        except (LookupError, DayError) as error:
            raise CommandError(str(error)) from None
        if options["json"]:
            self.stdout.write(as_text(balance))
            return
        for line in as_lines(balance):
            self.stdout.write(line)
