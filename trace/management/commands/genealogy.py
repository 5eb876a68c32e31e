"""manage.py genealogy: what went into a hull, or what a lot went into, as known on a day."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from trace.genealogy.answer import genealogy
from trace.genealogy.day import DayError, moment
from trace.genealogy.documents import as_text, as_tree


class Command(BaseCommand):
    help = "Trace a unit back to every input or forward to everything made of it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("direction", choices=["back", "forward"])
        parser.add_argument("code", help="a label, a hull's serial, a moulding number or a lot number")
        parser.add_argument(
            "--as-known-on",
            metavar="ISO",
            help="a date (to its end, in the plant's time zone) or a time such as 2026-06-09T14:00:00+01:00",
        )
        parser.add_argument("--json", action="store_true", help="the document other systems rely on")
        parser.add_argument("--not-through-regrind", action="store_true", help="stop where something went into regrind")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            # Read here and not by the parser, outside of which an error is answered by its sentence alone.
            known = options["as_known_on"]
            answer = genealogy(
                options["code"],
                options["direction"],
                moment(known) if known else None,
                through_regrind=not options["not_through_regrind"],
            )
        except (LookupError, DayError) as error:
            raise CommandError(str(error)) from None
        if options["json"]:
            self.stdout.write(as_text(answer))
            return
        for line in as_tree(answer):
            self.stdout.write(line)
