"""Gives a person the password for the desk: `manage.py set_password KEY`."""

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.credentials import NotTaken, set_password
from trace.management.commands.set_pin import asked_twice, known_person


class Command(BaseCommand):
    help = "Set the password of a person who is in the plant data. Ends every sign-in of that person."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("key", help="the person's key, or the code on the badge")
        parser.add_argument("--from-stdin", action="store_true", help="read the password from standard input")

    def handle(self, **options: Any) -> None:
        person = known_person(options["key"])
        password = sys.stdin.readline().rstrip("\r\n") if options["from_stdin"] else asked_twice("Password")
        try:
            set_password(person, password)
        except NotTaken as error:
            raise CommandError(str(error)) from None
        self.stdout.write(f"The password of {person.key} is set.")
