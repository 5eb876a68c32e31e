"""manage.py common_cause: what do the bad hulls share that the rest does not?"""

from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from trace.genealogy.day import DayError, moment
from trace.quality.common_cause import common_cause
from trace.quality.documents import as_lines, as_text
from trace.quality.question import Question, QuestionError


class Command(BaseCommand):
    help = "What the bad hulls share: every cause in the records compared, exactly, with its rivals split"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("bad", nargs="+", help="plates of the bad hulls")
        parser.add_argument("--first", metavar="DAY", type=date.fromisoformat, help="at risk: made on it or later")
        parser.add_argument("--last", metavar="DAY", type=date.fromisoformat, help="at risk: made up to this day")
        parser.add_argument("--days", type=int, default=0, help="at risk: made at least so many days before")
        parser.add_argument("--unsold", action="store_true", help="count hulls that were never sent too")
        parser.add_argument("--as-known-on", metavar="ISO", help="a date (to its end) or a time")
        parser.add_argument("--json", action="store_true", help="the document other systems rely on")

    def handle(self, *args: Any, **options: Any) -> None:
        known, span = options["as_known_on"], (options["first"], options["last"], options["days"])
        try:
            question = Question(tuple(options["bad"]), *span, sold=not options["unsold"])
            answer = common_cause(question, moment(known) if known else None)
        except (LookupError, DayError, QuestionError) as error:
            raise CommandError(str(error)) from None
        for line in [as_text(answer)] if options["json"] else as_lines(answer):
            self.stdout.write(line)
