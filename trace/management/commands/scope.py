"""manage.py scope: the hulls that share a cause, each certain, may or cannot, as known on a day."""

import csv
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from trace.genealogy.causes import CauseError, read_cause
from trace.genealogy.day import DayError, moment
from trace.genealogy.shared_documents import as_lines, as_rows, as_text
from trace.genealogy.sharing import shared_by


class Command(BaseCommand):
    help = "The hulls that share a cause: holds=K-5510 in=inner and made=2026-03-03..2026-03-09 and not arm=S2"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("cause", nargs="+", help="name=value, joined by and, or, not and brackets")
        parser.add_argument(
            "--as-known-on",
            metavar="ISO",
            help="a date (to its end, in the plant's time zone) or a time such as 2026-06-09T14:00:00+01:00",
        )
        written = parser.add_mutually_exclusive_group()
        written.add_argument("--json", action="store_true", help="the document other systems rely on")
        written.add_argument("--csv", action="store_true", help="a row for each hull, for a spreadsheet")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            known = options["as_known_on"]
            answer = shared_by(read_cause(options["cause"]), moment(known) if known else None)
        except (LookupError, DayError, CauseError) as error:
            raise CommandError(str(error)) from None
        if options["json"]:
            self.stdout.write(as_text(answer))
        elif options["csv"]:
            csv.writer(self.stdout).writerows(as_rows(answer))
        else:
            for line in as_lines(answer):
                self.stdout.write(line)
