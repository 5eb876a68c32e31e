"""Why a hull shares a cause, may or cannot, in one line."""

from collections.abc import Collection, Mapping
from datetime import datetime
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes import printable
from trace.genealogy.amounts import Verdict
from trace.genealogy.built import EARLIEST, Built
from trace.genealogy.cause_words import Thing, Unchecked
from trace.genealogy.causes import With
from trace.genealogy.checks import Doubted
from trace.genealogy.deeds import ALWAYS, Deed, deeds_on
from trace.genealogy.documents import UNIT_WORDS, in_unit
from trace.genealogy.scope import Share

# The acts on so many hulls are looked up at once.
AT_ONCE = 1_000


def of_deeds(
    cause: With,
    thing: Thing,
    verdicts: Mapping[int, Verdict],
    hulls: Collection[int],
    known: datetime,
    during: Doubted = ALWAYS,
) -> dict[int, str]:
    """Of each of the hulls the acts with a thing of the plant, on it or on what went into it."""
    name = {"word": _word(cause, thing), "key": printable(cause.key)}
    sharing = [hull for hull in hulls if verdicts.get(hull, "cannot") != "cannot"]
    found = dict.fromkeys(hulls, _("no act with %(word)s %(key)s is on record") % name)
    for at in range(0, len(sharing), AT_ONCE):
        for hull, deeds in deeds_on(thing, cause.key, sharing[at : at + AT_ONCE], known, during).items():
            found[hull] = _of_acts(name, deeds)
    return found


def _word(cause: With, thing: Thing) -> str:
    return "instrument" if isinstance(thing, Unchecked) else cause.word.replace("-", " ")


def _of_acts(name: Mapping[str, str], deeds: list[Deed]) -> str:
    if not deeds:
        return _("a record is missing that could name %(word)s %(key)s") % name
    first, *more = deeds
    said = {**name, "act": first.kind.replace("_", " "), "when": stamped(first.happened), "n": len(more)}
    words = _("%(word)s %(key)s: %(act)s %(when)s")
    if more:
        words = _("%(word)s %(key)s: %(act)s %(when)s, and %(n)d more")
    return words % said


def how_much(verdict: Verdict, share: Share | None, uom: str | None, name: str) -> str:
    if verdict == "cannot" or share is None:
        return held(verdict, name)
    least, most = in_unit(share.total.least, uom), in_unit(share.total.most, uom)
    unit = UNIT_WORDS.get(uom or "", uom or "")
    said = {"name": name, "least": least, "most": most, "unit": unit}
    if most is None:
        if verdict == "certain":
            return _("%(name)s, nobody can say how much") % said
        return _("a record is missing that %(name)s could fill") % said
    if least == most:
        return _("%(most)s %(unit)s of %(name)s") % said
    if verdict == "certain":
        return _("%(least)s to %(most)s %(unit)s of %(name)s") % said
    return _("at most %(most)s %(unit)s of %(name)s") % said


def held(verdict: Verdict, name: str) -> str:
    if verdict == "cannot":
        return _("no record leads from %(name)s to it") % {"name": name}
    words = _("%(name)s is in it") if verdict == "certain" else _("%(name)s may be in it")
    return words % {"name": name}


def figures(values: Collection[str], uom: str) -> str:
    """What was read, in the order of reading."""
    if not values:
        return _("no such figure is on record")
    unit = {"C": "°C"}.get(uom, uom)
    return _("read: %(values)s %(unit)s") % {"values": ", ".join(values), "unit": unit} if unit else ", ".join(values)


def charged(layer: str, masses: Collection[Decimal | None]) -> str:
    """The kilograms that were charged of a layer, once for each mould that the hull came of."""
    if not masses:
        return _("no charge of %(layer)s is on record") % {"layer": printable(layer)}
    said = ", ".join(_("not known") if mass is None else f"{mass:.3f} kg" for mass in masses)
    return _("%(layer)s charged: %(masses)s") % {"layer": printable(layer), "masses": said}


def when_made(built: Built) -> str:
    if built.first == built.last:
        return _("made %(when)s") % {"when": stamped(built.last)}
    if built.first == EARLIEST:
        return _("made before %(when)s, nobody can say when") % {"when": stamped(built.last)}
    return _("made between %(first)s and %(last)s") % {"first": stamped(built.first), "last": stamped(built.last)}


def stamped(moment: datetime) -> str:
    """A moment by the plant's clock, to the minute."""
    return f"{timezone.localtime(moment):%-d %b %Y %H:%M}"
