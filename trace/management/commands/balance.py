"""manage.py balance: the mass balance of a lot, container, vessel or works order, or of some plant days."""

from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from trace.genealogy.balance.days import balances_of_days
from trace.genealogy.balance.documents import all_as_text, as_lines, as_text
from trace.genealogy.balance.orders import balances_of_order, order_named
from trace.genealogy.balance.subjects import balance_of
from trace.genealogy.day import DayError, moment


class Command(BaseCommand):
    help = "What came of it, where it is now, what is missing, and whether weighing explains that."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "code", nargs="?", default="", help="a lot number, the label of a container or vessel, or a works order"
        )
        parser.add_argument("--first", type=date.fromisoformat, metavar="DAY", help="with no code: from this plant day")
        parser.add_argument("--last", type=date.fromisoformat, metavar="DAY", help="to the end of this one")
        parser.add_argument(
            "--as-known-on",
            metavar="ISO",
            help="a date (to its end, in the plant's time zone) or a time such as 2026-06-09T14:00:00+01:00",
        )
        parser.add_argument("--json", action="store_true", help="the document other systems rely on")

    def handle(self, *args: Any, **options: Any) -> None:
        code: str = options["code"]
        try:
            known = moment(options["as_known_on"]) if options["as_known_on"] else None
            if code and order_named(code, known) is None:
                found, several = [balance_of(code, known)], False
            elif code:
                found, several = balances_of_order(code, known), True
            else:
                found, several = balances_of_days(options["first"], options["last"], known), True
        except (LookupError, DayError) as error:
            raise CommandError(str(error)) from None
        if options["json"]:
            self.stdout.write(all_as_text(found) if several else as_text(found[0]))
            return
        for balance in found:
            for line in as_lines(balance):
                self.stdout.write(line)
            self.stdout.write("")
