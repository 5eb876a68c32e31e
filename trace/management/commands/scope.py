"""manage.py scope: the hulls that share a cause, each certain, may or cannot, as known on a day; and those saved."""

import csv
import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from trace.genealogy.as_typed import understood
from trace.genealogy.asked_again import asked_again
from trace.genealogy.causes import CauseError, read_cause
from trace.genealogy.day import DayError, moment
from trace.genealogy.documents import utc
from trace.genealogy.saved_scopes import saved_scope, saved_scopes
from trace.genealogy.shared_documents import again_as_json, again_as_lines, as_lines, as_rows, as_text
from trace.genealogy.sharing import shared_by


class Command(BaseCommand):
    help = "The hulls that share a cause: holds=K-5510 in=inner and made=2026-03-03..2026-03-09 and not arm=S2"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("cause", nargs="*", help="name=value, joined by and, or, not and brackets")
        parser.add_argument(
            "--saved", nargs="?", type=int, const=0, metavar="N",
            help="ask saved scope N again and compare it with today; without N: list them",
        )  # fmt: skip
        parser.add_argument(
            "--as-known-on",
            metavar="ISO",
            help="a date (to its end, in the plant's time zone) or a time such as 2026-06-09T14:00:00+01:00",
        )
        written = parser.add_mutually_exclusive_group()
        written.add_argument("--json", action="store_true", help="the document other systems rely on")
        written.add_argument("--csv", action="store_true", help="a row for each hull, for a spreadsheet")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["saved"] is not None:
            self._saved(options["saved"], as_json=options["json"])
            return
        if not options["cause"]:
            raise CommandError("Say what is asked for, such as holds=K-5510, or --saved.")
        try:
            known = options["as_known_on"]
            answer = shared_by(understood(options["cause"]), moment(known) if known else None)
        except (LookupError, DayError, CauseError) as error:
            raise CommandError(str(error)) from None
        if options["json"]:
            self.stdout.write(as_text(answer))
        elif options["csv"]:
            csv.writer(self.stdout).writerows(as_rows(answer))
        else:
            for line in as_lines(answer):
                self.stdout.write(line)

    def _saved(self, number: int, *, as_json: bool) -> None:
        if not number:
            for one in saved_scopes():
                aside = "  put aside" if one.aside else ""
                self.stdout.write(f"{one.number}  {utc(one.known)}  {' '.join(one.words)}{aside}")
            return
        one_saved = saved_scope(number)
        if one_saved is None:
            raise CommandError(f"There is no saved scope {number}.")
        try:
            found = asked_again(read_cause(one_saved.words), one_saved.known)
        except (LookupError, CauseError) as error:
            raise CommandError(f"This question cannot be asked any more: {error}") from None
        as_kept = one_saved.same_as(found.then)
        if as_json:
            document = {"saved": number, "cause": list(one_saved.words), "as_saved": as_kept, **again_as_json(found)}
            self.stdout.write(json.dumps(document, ensure_ascii=False, indent=1, sort_keys=True))
            return
        self.stdout.write(f"{number}  {' '.join(one_saved.words)}")
        for line in again_as_lines(found, as_kept=as_kept):
            self.stdout.write(line)
