"""What else a hull is or was called, and which hull stands for which: links of identity, not of kilograms."""

from collections.abc import Iterator
from datetime import datetime

from django.utils.translation import gettext as _

from trace.genealogy.graph import Node
from trace.genealogy.remoulds import linked_among
from trace.genealogy.walk import nodes
from trace.recording.acts.new_plates import CAUSES, REPLACED, ReplacePlate
from trace.recording.acts.remoulds import Remould
from trace.sheets.addresses import hull_url
from trace.sheets.contracts import KinLine
from trace.sheets.hulls.gathered import Gathered


def kin(gathered: Gathered) -> tuple[KinLine, ...]:
    """Earlier numbers first, then the hull it stands for and the one that stands for it."""
    return (*_earlier_numbers(gathered), *_linked(gathered))


def _earlier_numbers(gathered: Gathered) -> Iterator[KinLine]:
    serial = gathered.hull.serial
    for entry in gathered.entries:
        for row in entry.part("serial_stands") if entry.kind == ReplacePlate.KIND else ():
            # A plate that was replaced by mistake is its number again.
            if row["standing"] == REPLACED and row["text"] != serial:
                why = _(CAUSES.get(str(entry.says["cause"]), str(entry.says["cause"])))
                words = _("Its plate read %(plate)s until then: %(why)s, replaced by %(new)s. Both numbers find it.")
                text = words % {"plate": row["text"], "why": why, "new": entry.says["plate"]}
                yield KinLine(text, entry.happened)


def _linked(gathered: Gathered) -> Iterator[KinLine]:
    if not any(entry.kind == Remould.KIND for entry in gathered.entries):
        return
    hull, known = gathered.hull.id, gathered.answer.as_known_on
    links = linked_among([hull], known)
    there = nodes({link.new for link in links} | {link.old for link in links}, known)
    for link in links:
        if link.old == hull:
            yield _line(_("%(other)s was moulded anew in its place."), there[link.new], link.happened, gathered)
        else:
            words = _(
                "It was moulded anew in place of %(other)s. Nothing of that hull is in it by this: what is ground and"
                " used again is recorded where it is ground."
            )
            yield _line(words, there[link.old], link.happened, gathered)


def _line(words: str, other: Node, when: datetime, gathered: Gathered) -> KinLine:
    name = other.serial or other.code
    return KinLine(words % {"other": name}, when, name, hull_url(name, gathered.asked))
