"""Erases names and words for ever: `manage.py erase_note --by BADGE --why "…" --complaint 12`, or by their digests."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.access import roles_of
from trace.management.commands.set_pin import known_person
from trace.recording.acts.erasing import Erase
from trace.recording.commands import By
from trace.recording.floor.complaints import notes_of
from trace.recording.floor.owners import notes_of_owners
from trace.recording.record import record
from trace.speech import speak

MAY = frozenset({"quality", "deputy", "administrator"})


class Command(BaseCommand):
    help = "Erase the buyer's name, contact and words of a complaint, or notes by their digest. It cannot be undone."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("note", nargs="*", help="the digest of a note, as the event's bytes hold it")
        parser.add_argument("--complaint", type=int, help="the number of a complaint: all that it holds in notes")
        parser.add_argument("--owners-of", metavar="PLATE", help="all names and contacts of owners of this hull")
        parser.add_argument("--by", required=True, help="who erases: the person's key, or the code on the badge")
        parser.add_argument("--why", required=True, help="the reason, which is kept")

    def handle(self, **options: Any) -> None:
        person = known_person(options["by"])
        if not MAY & roles_of(person.body):
            raise CommandError(f"{person.key} may not erase: quality, its deputy or an administrator does.")
        notes = [*options["note"], *(notes_of(options["complaint"]) if options["complaint"] else [])]
        notes += notes_of_owners(options["owners_of"]) if options["owners_of"] else []
        answer = record(
            Erase(notes=tuple(sorted(set(notes))), reason=options["why"]), By(person=person.key, station="notes")
        )
        if answer.outcome == "refused":
            raise CommandError(speak(f"{answer.what} {answer.why} {answer.now}"))
        self.stdout.write(f"Notes erased: {len(set(notes))}. The records stand as they were, without these words.")
