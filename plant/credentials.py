"""Sets the PIN or the password of a person, and says in one sentence why one is not taken."""

import re
from itertools import pairwise

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from plant.models import Account, Person

PIN_DIGITS = 6


class NotTaken(ValueError):
    """The PIN or password cannot be used; its text is the sentence to show."""


def set_pin(person: Person, pin: str) -> None:
    """Keep the PIN's hash; ends every sign-in of the person. Raises NotTaken."""
    if not re.fullmatch(rf"[0-9]{{{PIN_DIGITS}}}", pin):
        raise NotTaken(_("A PIN has six digits, 0 to 9."))
    steps = {int(b) - int(a) for a, b in pairwise(pin)}
    if steps in ({0}, {1}, {-1}) or pin[:3] == pin[3:] or pin[:2] * 3 == pin:
        raise NotTaken(_("This PIN is among the first to be guessed: choose six digits without a pattern."))
    with transaction.atomic():
        account = _account(person)
        account.pin = make_password(pin)
        account.save(update_fields=["pin"])


def set_password(person: Person, password: str) -> None:
    """Keep the password's hash; ends every sign-in of the person. Raises NotTaken."""
    try:
        validate_password(password)
    except ValidationError as error:
        raise NotTaken(" ".join(error.messages)) from None
    with transaction.atomic():
        account = _account(person)
        account.set_password(password)
        account.save(update_fields=["password"])


def _account(person: Person) -> Account:
    """The person's account; a new one can sign in nowhere until a PIN or a password is set."""
    account, made = Account.objects.select_for_update().get_or_create(person=person.key)
    if made:
        account.set_unusable_password()
        account.save(update_fields=["password"])
    return account
