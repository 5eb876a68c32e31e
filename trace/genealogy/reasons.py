"""Why a hull shares a cause, may or cannot, in one line."""

from collections.abc import Mapping
from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes import printable
from trace.genealogy.amounts import Verdict
from trace.genealogy.built import EARLIEST, Built
from trace.genealogy.causes import With
from trace.genealogy.deeds import Deed, behind_each
from trace.genealogy.documents import UNIT_WORDS, in_unit
from trace.genealogy.scope import Share


class OfDeeds:
    """Why a hull shares a thing: the acts with it on the hull or on what went into it, looked up once one hull asks."""

    def __init__(self, cause: With, verdicts: Mapping[int, Verdict], deeds: list[Deed], known: datetime) -> None:
        self.cause, self.verdicts, self.known = cause, verdicts, known
        self.deeds: dict[int, list[Deed]] = {}
        for deed in deeds:
            self.deeds.setdefault(deed.unit, []).append(deed)
        self.behind: Mapping[int, set[int]] | None = None

    def why(self, hull: int) -> str:
        verdict = self.verdicts.get(hull, "cannot")
        name = {"word": self.cause.word.replace("-", " "), "key": printable(self.cause.key)}
        if verdict == "cannot":
            return _("no act with %(word)s %(key)s is on record") % name
        acts = self._acts(hull)
        if not acts:
            return _("a record is missing that could name %(word)s %(key)s") % name
        first, *more = acts
        said = {**name, "act": first.kind.replace("_", " "), "when": stamped(first.happened), "n": len(more)}
        words = _("%(word)s %(key)s: %(act)s %(when)s")
        if more:
            words = _("%(word)s %(key)s: %(act)s %(when)s, and %(n)d more")
        return words % said

    def _acts(self, hull: int) -> list[Deed]:
        """Oldest first, each event once."""
        if self.behind is None:
            self.behind = behind_each([h for h, v in self.verdicts.items() if v != "cannot"], self.deeds, self.known)
        found = {deed.event: deed for unit in self.behind.get(hull, ()) for deed in self.deeds[unit]}
        return sorted(found.values(), key=lambda deed: (deed.happened, deed.event))


def how_much(share: Share | None, uom: str | None, name: str) -> str:
    if share is None or share.verdict == "cannot":
        return _("no record leads from %(name)s to it") % {"name": name}
    least, most = in_unit(share.total.least, uom), in_unit(share.total.most, uom)
    unit = UNIT_WORDS.get(uom or "", uom or "")
    said = {"name": name, "least": least, "most": most, "unit": unit}
    if most is None:
        if share.verdict == "certain":
            return _("%(name)s, nobody can say how much") % said
        return _("a record is missing that %(name)s could fill") % said
    if least == most:
        return _("%(most)s %(unit)s of %(name)s") % said
    if share.verdict == "certain":
        return _("%(least)s to %(most)s %(unit)s of %(name)s") % said
    return _("at most %(most)s %(unit)s of %(name)s") % said


def held(verdict: Verdict, name: str) -> str:
    if verdict == "cannot":
        return _("no record leads from %(name)s to it") % {"name": name}
    words = _("%(name)s is in it") if verdict == "certain" else _("%(name)s may be in it")
    return words % {"name": name}


def when_made(built: Built) -> str:
    if built.first == built.last:
        return _("made %(when)s") % {"when": stamped(built.last)}
    if built.first == EARLIEST:
        return _("made before %(when)s, nobody can say when") % {"when": stamped(built.last)}
    return _("made between %(first)s and %(last)s") % {"first": stamped(built.first), "last": stamped(built.last)}


def stamped(moment: datetime) -> str:
    """A moment by the plant's clock, to the minute."""
    return f"{timezone.localtime(moment):%-d %b %Y %H:%M}"
