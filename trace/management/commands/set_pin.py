"""Gives a person the six digits that go with the badge: `manage.py set_pin BADGE`."""

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.credentials import NotTaken, set_pin
from plant.models import Person
from trace.pages.sign_in import badge_person


class Command(BaseCommand):
    help = "Set the PIN of a person who is in the plant data. Ends every sign-in of that person."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("badge", help="the person's key, or the code on the badge")
        parser.add_argument("--from-stdin", action="store_true", help="read the PIN from standard input")

    def handle(self, **options: Any) -> None:
        person = known_person(options["badge"])
        pin = sys.stdin.readline().strip() if options["from_stdin"] else asked_twice("PIN")
        try:
            set_pin(person, pin)
        except NotTaken as error:
            raise CommandError(str(error)) from None
        self.stdout.write(f"The PIN of {person.key} is set.")


def known_person(text: str) -> Person:
    """The person by key or by badge code. Raises CommandError for nobody, or for one who has left."""
    person = Person.objects.filter(key__in=[text.strip(), badge_person(text)]).first()
    if person is None:
        raise CommandError(f"{text} is nobody in the plant data: add the person first.")
    if person.ended:
        raise CommandError(f"{person.key} has left: nothing is set.")
    return person


def asked_twice(what: str) -> str:
    """What was typed, unseen, twice the same. Raises CommandError when the two differ."""
    first = getpass.getpass(f"{what}: ")
    if getpass.getpass(f"{what} again: ") != first:
        raise CommandError("The two do not agree: nothing is set.")
    return first
