"""Lets the first person in: `manage.py first_administrator KEY "Full Name"`, on a plant that has nobody yet."""

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils.translation import gettext as _

from plant.credentials import NotTaken, set_password
from plant.models import Account, Person
from trace.management.commands.set_pin import asked_twice
from trace.recording.acts.setup import Define
from trace.recording.commands import By
from trace.recording.record import record


class Command(BaseCommand):
    help = "Record the first person, a plant administrator, and set a password; only while nobody can sign in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("key", help="a short key for the person, as P-01")
        parser.add_argument("name", help="the person's name")
        parser.add_argument("--from-stdin", action="store_true", help="read the password from standard input")

    def handle(self, **options: Any) -> None:
        if Account.objects.exists():
            raise CommandError(
                _("Somebody can sign in already: let a plant administrator enter further people under Plant data.")
            )
        password = sys.stdin.readline().rstrip("\r\n") if options["from_stdin"] else asked_twice("Password")
        # All or nothing: a person without a password could not be put right by this command.
        with transaction.atomic():
            answer = record(
                Define(
                    kind="person", key=options["key"], name=options["name"],
                    body={"roles": ["administrator"], "trained": {}, "until": None},
                ),
                By(person=options["key"], station="set-up"),
            )  # fmt: skip
            if answer.outcome == "refused":
                raise CommandError(f"{answer.what} {answer.why} {answer.now}")
            try:
                set_password(Person.objects.get(key=options["key"]), password)
            except NotTaken as error:
                raise CommandError(str(error)) from None
        self.stdout.write(_("%(key)s is plant administrator and signs in at /sign-in/desk/.") % {"key": options["key"]})
