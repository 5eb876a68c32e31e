"""A body of plant data written as text: JSON in, JSON out, with one sentence for what cannot be read."""

import json
from typing import Any

from django.utils.translation import gettext as _

from plant.kinds.faults import Fault
from trace.chain import canonical

LONGEST = 200_000
LONGEST_INT = 17  # signs of the least number that canonical JSON holds, its minus among them


class TextError(ValueError):
    """The text is no body at all; the text of the error is one sentence."""


def read(text: str) -> dict[str, Any]:
    """The body that a form's text holds, not yet judged. Raises TextError."""
    if len(text) > LONGEST:
        raise TextError(_("This is more than %(n)d signs: too much for one thing.") % {"n": LONGEST})
    try:
        body = json.loads(text, parse_int=_short_int, parse_float=_no_float, parse_constant=_no_float)
    except json.JSONDecodeError as error:
        raise TextError(
            _("Line %(line)d cannot be read: %(why)s.") % {"line": error.lineno, "why": error.msg.lower()}
        ) from None
    except RecursionError:
        raise TextError(_("This is nested too deeply.")) from None
    if not isinstance(body, dict):
        raise TextError(_('The whole must stand in braces: {"name": …}.'))
    try:
        canonical(body)
    except ValueError as error:
        raise TextError(_("This cannot be kept as it is written: %(why)s") % {"why": error}) from None
    return body


def written(body: dict[str, Any]) -> str:
    return json.dumps(body, ensure_ascii=False, indent=2)


def unreadable(error: TextError) -> Fault:
    return Fault("body", str(error), _("Nothing of it was kept."), _("Correct it and save again."))


def _no_float(text: str) -> Any:
    raise TextError(_('Write the number %(n)s in quotes, as "%(n)s": it is kept digit by digit.') % {"n": text})


def _short_int(text: str) -> int:
    # Python itself refuses to read a number of some thousand digits; one beyond 2^53 is refused by canonical().
    return int(text) if len(text) <= LONGEST_INT else _no_float(f"{text[:LONGEST_INT]}…")
