"""What a paper is asked for, and what its reader may see: consignees’ names and free words are left out for others."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from django.utils.translation import gettext as _

from plant.access import CONSIGNEES_SEEN_BY, WORDS_SEEN_BY
from trace.sheets.facts.known import Known


class PaperError(ValueError):
    """What was asked for cannot be made into a paper; its text is one sentence."""


@dataclass(frozen=True, slots=True)
class Reader:
    """What whoever asked may see besides the records themselves."""

    consignees: bool = False
    words: bool = False

    @classmethod
    def of(cls, roles: Collection[str]) -> "Reader":
        """By the roles of a person (plant/access.py)."""
        return cls(bool(CONSIGNEES_SEEN_BY & set(roles)), bool(WORDS_SEEN_BY & set(roles)))

    def covers(self, other: "Reader") -> bool:
        """Whether this reader may see all that the other may."""
        return (self.consignees or not other.consignees) and (self.words or not other.words)

    def left_out(self) -> str:
        """What a paper for this reader says of what it leaves out; “” where it leaves out nothing."""
        lacks = [_("the names of consignees")] if not self.consignees else []
        lacks += [_("reasons and remarks in free words")] if not self.words else []
        return _("Left out for this reader: %(what)s.") % {"what": _(" and ").join(lacks)} if lacks else ""


@dataclass(frozen=True, slots=True)
class Asked:
    """One question. `words` are its words by name, as the kind of paper asks for them; the answer is as known then."""

    words: Mapping[str, str]
    as_known_on: datetime
    reader: Reader = field(default_factory=Reader)


def for_reader(known: Known, reader: Reader) -> Known:
    """The same with a few words in the place of what the reader may not see. Names of people stay."""
    names = {kind: _names(known, kind) for kind in ("person", "consignee")}
    texts: dict[str, str | None] = {}
    for digest, text in known.notes.texts.items():
        if digest in names["person"]:
            texts[digest] = text
        elif digest in names["consignee"]:
            texts[digest] = text if reader.consignees else _("a consignee")
        else:
            texts[digest] = text if reader.words else _("(words kept from this reader)")
    return replace(known, notes=replace(known.notes, texts=texts))


def _names(known: Known, kind: str) -> set[str]:
    return {
        str(revision.body["name"])
        for (of, _key), revisions in known.plant.of.items()
        if of == kind
        for revision in revisions
        if revision.body.get("name")
    }
