"""Makes every row of every event again from its bytes: `manage.py check_records [--json]`. 1 when anything differs."""

import json
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from trace.readmodels.checking import check_all, sentence


class Command(BaseCommand):
    help = "Compare every row of the records with what the events' own bytes say, and name each difference."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="one JSON document instead of sentences")

    def handle(self, **options: Any) -> None:
        check = check_all()
        if options["json"]:
            said = {"events": check.events, "differences": check.differences, "found": check.found}
            self.stdout.write(json.dumps(said, ensure_ascii=False))
        else:
            self.stdout.write("\n".join([sentence(check), *check.found]))
        if check.differences:
            sys.exit(1)
