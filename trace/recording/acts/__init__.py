"""What can happen in the plant, one file a piece of work: each kind of event stands in one of them and nowhere else."""

from functools import cache
from importlib import import_module
from pkgutil import iter_modules

from django.utils.translation import gettext as _

from trace.recording.commands import HANDLERS, Command


@cache
def commands_by_kind() -> dict[str, type[Command]]:
    """Every kind of event with its command, found by reading the files of this folder."""
    for module in iter_modules(__path__):
        import_module(f"{__name__}.{module.name}")
    return {command.KIND: command for command in HANDLERS}


def act_words(kind: str) -> str:
    """What the act of an event is called."""
    command = commands_by_kind().get(kind)
    return _(command.NAME) if command else kind.replace("_", " ")
