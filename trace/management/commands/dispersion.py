"""manage.py dispersion: how many hulls each lot reached, the worst and the mean recall, over all hulls of some days."""

import json
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from trace.genealogy.day import DayError, moment
from trace.genealogy.spread import as_document, as_lines, spread_of


class Command(BaseCommand):
    help = "How many hulls each lot reached and how many lots each hull holds, of the hulls made on some plant days."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--first", type=date.fromisoformat, metavar="DAY", help="the first plant day, 2026-03-03")
        parser.add_argument("--last", type=date.fromisoformat, metavar="DAY", help="the last plant day, counted too")
        parser.add_argument("--as-known-on", metavar="ISO", help="a date (to its end) or a time")
        parser.add_argument("--json", action="store_true", help="the document other systems rely on")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            known = options["as_known_on"]
            spread = spread_of(options["first"], options["last"], moment(known) if known else None)
        except (LookupError, DayError) as error:
            raise CommandError(str(error)) from None
        if options["json"]:
            self.stdout.write(json.dumps(as_document(spread), ensure_ascii=False, indent=1, sort_keys=True))
            return
        for line in as_lines(spread):
            self.stdout.write(line)
