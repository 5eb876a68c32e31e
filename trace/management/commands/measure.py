"""manage.py measure NAME: what this machine makes of the budgets, each measurement in its own module."""

from importlib import import_module
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

# Each is a module trace/measure/NAME.py with HELP, add_arguments(parser) and run(options) -> lines to print.
MEASUREMENTS = (
    "check", "hold", "papers", "scan", "scope", "scope_holds", "search", "season", "walk", "camera", "common",
    "mistakes",
)  # fmt: skip


class Command(BaseCommand):
    help = "Measure this machine on a made-up plant, in a scratch database that is dropped afterwards."

    def add_arguments(self, parser: CommandParser) -> None:
        chosen = parser.add_subparsers(dest="measurement", required=True)
        for name in MEASUREMENTS:
            module = import_module(f"trace.measure.{name}")
            module.add_arguments(chosen.add_parser(name, help=module.HELP))

    def handle(self, *args: Any, **options: Any) -> None:
        module = import_module(f"trace.measure.{options['measurement']}")
        for line in module.run(options):
            self.stdout.write(line)
            self.stdout.flush()
