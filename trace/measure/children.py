"""Starts processes for a measurement: this module alone is imported there before Django is set up."""

import os

from plant.env import postgres_url


def point_children_here() -> None:
    """Processes started from now on work on the database that this one works on."""
    from django.db import connection

    settings = connection.settings_dict
    os.environ["DATABASE_URL"] = postgres_url(
        settings["USER"], settings["PASSWORD"], settings["NAME"], settings["HOST"]
    )


def set_up() -> None:
    """The first thing that such a process does."""
    import django

    django.setup()
