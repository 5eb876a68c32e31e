"""Slows down guessing of PINs and passwords: by the person guessed at, and by where the guesses come from.

Five wrong tries at one person within 15 minutes lock that person's sign-in for 15 minutes: on the device they were
made on, where somebody has signed in before; on all other devices together, where nobody has. So a stranger's guesses
lock strangers out, and not the person at the tablet they use daily. Twenty wrong tries an hour from one place lock
that place until the hour has passed. With six digits and 20 tries an hour that is 1,042 days for an even chance
(10^6 / 2 / 480 a day), for each device that is known and for all the others together.
"""

from datetime import datetime, timedelta

from django.db import connection, transaction
from django.db.models import Q
from django.utils import timezone

from plant.models import WrongPin

PERSON_TRIES = 5
PERSON_LOCK = timedelta(minutes=15)
PLACE_TRIES = 20
PLACE_LOCK = timedelta(hours=1)
KEPT = timedelta(days=30)
STRANGER = "address "  # how the place of a device begins that nobody has signed in on: all that is known is its address


def begin_try(person: str, place: str) -> int | None:
    """Write a try down as wrong before it is looked at, and return its number; None when locked.

    person: the key of the person, or a stand-in for an unknown badge; place: the known device, else the
    address. Tries are counted one after another, so that many at once get no more than the limit.
    """
    at = timezone.now()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SELECT sign_in_turn()")
        if _person_locked(person, place, at) or _place_locked(place, at):
            return None
        WrongPin.objects.filter(at__lt=at - KEPT).delete()
        return WrongPin.objects.create(at=at, person=person, device=place).pk


def was_right(person: str, place: str) -> None:
    """Strike out this person's tries from this place; what others tried elsewhere keeps counting."""
    WrongPin.objects.filter(person=person, device=place).delete()


def _person_locked(person: str, place: str, at: datetime) -> bool:
    here = Q(device__startswith=STRANGER) if place.startswith(STRANGER) else Q(device=place)
    newest = list(
        WrongPin.objects.filter(here, person=person, at__gt=at - 2 * PERSON_LOCK)
        .order_by("-at", "-id")
        .values_list("at", flat=True)[:PERSON_TRIES]
    )
    if len(newest) < PERSON_TRIES:
        return False
    return newest[0] > at - PERSON_LOCK and newest[0] - newest[-1] <= PERSON_LOCK


def _place_locked(place: str, at: datetime) -> bool:
    return WrongPin.objects.filter(device=place, at__gt=at - PLACE_LOCK).count() >= PLACE_TRIES
