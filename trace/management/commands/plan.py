"""manage.py plan: how many hulls a planned top-up or split would put at stake, and a cheaper way. Records nothing."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from trace.codes import AmountError
from trace.genealogy.plan_documents import as_lines, as_text
from trace.genealogy.planned import planned_split, planned_top_up


class Command(BaseCommand):
    help = "How many hulls a plan would put at stake, now and after, and a cheaper plan. Nothing is recorded."

    def add_arguments(self, parser: CommandParser) -> None:
        plans = parser.add_subparsers(dest="plan", required=True)
        top_up = plans.add_parser("top-up", help="so many kg out of a container into a vessel")
        top_up.add_argument("source", help="the container's label")
        top_up.add_argument("into", help="the vessel's label")
        top_up.add_argument("kg")
        top_up.add_argument("--charge", default="", metavar="KG", help="what is drawn for one hull")
        split = plans.add_parser("split", help="a container shared out over works orders")
        split.add_argument("source", help="the container's label")
        split.add_argument("other", help="the container from which a charge is filled up")
        split.add_argument("order", nargs="+", help="ORDER=KG, one for each works order")
        for one in (top_up, split):
            one.add_argument("--json", action="store_true", help="the document other systems rely on")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["plan"] == "top-up":
                planned = planned_top_up(options["source"], options["into"], options["kg"], options["charge"])
            else:
                shares = [(order, kg) for order, _is, kg in (text.partition("=") for text in options["order"])]
                planned = planned_split(options["source"], options["other"], shares)
        except (LookupError, AmountError) as error:
            raise CommandError(str(error)) from None
        if options["json"]:
            self.stdout.write(as_text(planned))
            return
        for line in as_lines(planned):
            self.stdout.write(line)
