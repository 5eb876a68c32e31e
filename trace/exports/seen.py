"""Which papers a person may see: of kinds whose pages they may open, with nothing in them that they may not see."""

from collections.abc import Collection

from django.db.models import QuerySet

from plant.access import allowed
from trace.exports.asked import Reader
from trace.exports.kinds.table import KINDS
from trace.models import KeptPaper


def kinds_for(roles: Collection[str], tasks: Collection[str] | None = None) -> list[str]:
    """The kinds of paper that a person of these roles may ask for."""
    return [kind.name for kind in KINDS if allowed(roles, kind.page, "GET", {}, tasks)]


def papers_for(roles: Collection[str], tasks: Collection[str] | None = None) -> QuerySet[KeptPaper]:
    """The papers that they may see, the newest first."""
    found = KeptPaper.objects.filter(kind__in=kinds_for(roles, tasks)).order_by("-id")
    reader = Reader.of(roles)
    if not reader.consignees:
        found = found.filter(consignees=False)
    return found if reader.words else found.filter(free_words=False)
