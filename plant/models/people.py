"""People as plant data, and the accounts (password, PIN) that stay outside every event."""

from typing import ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models

from plant.models.recorded import Recorded


class Person(Recorded):
    """`body.name` is the digest of a note; `body.roles` and `body.trained` say what the person may do."""

    class Meta:
        db_table = "plant_person"


class Account(AbstractBaseUser):
    """How one person signs in. `person` is the key of a Person; roles are read from there at each request."""

    person = models.TextField(unique=True)
    pin = models.TextField(default="", blank=True)
    is_active = models.BooleanField(default=True)

    objects = BaseUserManager()

    USERNAME_FIELD = "person"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    class Meta:
        db_table = "account"

    def __str__(self) -> str:
        return self.person


class WrongPin(models.Model):
    """One failed sign-in, kept to slow down guessing by badge and by device."""

    at = models.DateTimeField()
    person = models.TextField()
    device = models.TextField()

    class Meta:
        db_table = "wrong_pin"
        indexes = [
            models.Index(fields=["person", "at"], name="wrong_pin_person"),
            models.Index(fields=["device", "at"], name="wrong_pin_device"),
        ]
