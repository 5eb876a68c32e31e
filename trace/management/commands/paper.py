"""manage.py paper: make a paper, or a file of it, and take it: as the desk's pages do, by the same record."""

import shutil
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from plant.access import counts_at, roles_of
from trace.exports import keeping
from trace.exports.asked import PaperError
from trace.exports.forms import BY_FORM
from trace.exports.kinds.table import BY_NAME
from trace.exports.taking import take
from trace.genealogy.day import DayError, moment
from trace.models import KeptPaper
from trace.readmodels.plantdata import newest
from trace.speech import speak


class Command(BaseCommand):
    help = "Make a paper and take it: paper hull number=GHM-T430-004417 --by P-06 --to hull.pdf"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("kind", choices=list(BY_NAME))
        parser.add_argument("question", nargs="+", help="name=value; of a scope each word as q=WORD")
        parser.add_argument("--form", choices=list(BY_FORM), default="pdf")
        parser.add_argument("--as-known-on", metavar="ISO", help="a date (to its end, in the plant's time) or a time")
        parser.add_argument("--by", required=True, metavar="KEY", help="who takes it: what they may see stands in it")
        parser.add_argument("--to", required=True, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        words: dict[str, str] = {}
        for word in options["question"]:
            name, _equals, value = word.partition("=")
            words[name] = f"{words[name]}\n{value}" if name in words else value
        person = newest().get("person", options["by"])
        if person is None:
            raise CommandError(f"No person {options['by']} is known.")
        known = options["as_known_on"]
        try:
            roles = roles_of(person.body) if counts_at(person.body, person.ended, timezone.now()) else ()
            kept = keeping.ask(
                options["kind"], words, options["form"], moment(known) if known else None, person.key, roles
            )
        except (PaperError, DayError, LookupError) as error:
            raise CommandError(str(error)) from None
        self._write(kept, person.key, Path(options["to"]))

    def _write(self, kept: KeptPaper, person: str, to: Path) -> None:
        if not kept.digest or not keeping.path_of(kept.digest).is_file():
            keeping.make_now(kept)
            kept.refresh_from_db()
        if kept.error:
            raise CommandError(kept.error)
        answer, path = take(kept, person)
        if answer.outcome == "refused":
            raise CommandError(speak(f"{answer.what} {answer.why} {answer.now}"))
        shutil.copyfile(path, to)
        self.stdout.write(f"{keeping.number_of(kept)} {kept.digest} {kept.size} bytes; its data {kept.fingerprint}")
