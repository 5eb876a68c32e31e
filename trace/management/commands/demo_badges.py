"""Prints the badges, PINs and passwords of the invented plant's people, and the call with which a season begins."""

import json
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from plant.models import Account
from trace.codes import parse_label_code
from trace.demo.season.plant import PEOPLE
from trace.models import Installation, Label


class Command(BaseCommand):
    help = "Show how to sign in to the demo."

    def handle(self, *args: Any, **options: Any) -> None:
        if not Installation.objects.filter(demo=True).exists() or not Account.objects.exists():
            raise CommandError("There is no demo here: run deploy/demo.")
        codes = dict(
            Label.objects.filter(resource__kind="person")
            .values_list("resource__key", "code")
            .order_by("code")
        )
        self.stdout.write(
            "On the floor:                                                     At the desk:"
        )
        self.stdout.write(
            "Badge        PIN      Name                 Roles                  Key      Password"
        )
        for key, name, roles, _, pin in PEOPLE:
            if key not in codes:
                continue
            badge = parse_label_code(codes[key]).printed
            self.stdout.write(
                f"{badge}    {pin}   {name:20s} {', '.join(roles):22s} {key:8s} grebe haven {pin}"
            )
        self._call()

    def _call(self) -> None:
        """What the telephone says where a season was told (trace/demo/season); nothing of it is recorded."""
        truth = settings.DATA_FOLDER / "season-truth.json"
        said = json.loads(truth.read_text(encoding="utf-8")).get("call") if truth.exists() else None
        if said:
            self.stdout.write(
                "\nThe telephone: a buyer's Tamsin 430, {colour}, has cracked at the seat insert {spot}."
                "\nOf its plate can be read {plate} (? is a sign that is gone).".format(**said)
            )
