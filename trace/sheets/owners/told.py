"""The owners of a hull as its pages show them: to everybody without names, to who answers for notices with them."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from trace.genealogy.owners import USES, Owner
from trace.recording.acts.complaint_words import word
from trace.recording.acts.owners import OWNER_IS
from trace.sheets.facts.days import day_said
from trace.sheets.facts.notes import notes

# Who may read an owner's name and contact: who sends notices.
SEE_OWNERS = frozenset({"quality", "deputy"})


@dataclass(frozen=True, slots=True)
class OwnerLine:
    """One owner; sold, region and use are "" where they were not told. who, contact: None for who may not read them."""

    uid: str
    owner_is: str
    sold: str
    region: str
    use: str
    told: datetime
    who: str | None
    contact: str | None


def owner_lines(told: Collection[Owner], roles: Collection[str]) -> tuple[OwnerLine, ...]:
    sees = bool(SEE_OWNERS & set(roles))
    said = notes([digest for one in told for digest in (one.owner, one.contact)] if sees else [])
    return tuple(
        OwnerLine(
            one.uid, word(OWNER_IS, "first" if one.first else "later"), day_said(one.sold), one.region,
            word(USES, one.use) if one.use else "", one.told,
            said.text(one.owner) if sees else None, said.text(one.contact) if sees else None,
        )
        for one in told
    )  # fmt: skip


def first_said(told: Collection[Owner]) -> str:
    """Whether a notice can reach its first purchaser, as a list says it."""
    return _("registered") if any(one.first for one in told) else _("not registered")
