"""The short lists that complaints and cases choose from: symptoms, causes, ways of telling, and how a suspect stands.

The symptoms are those of the trade; lists and words are common practice, with no source.
"""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

SYMPTOMS = {
    "crack at insert": noop("crack at an insert"),
    "brittle wall": noop("brittle or cracked wall"),
    "pinholes": noop("pinholes or blow-holes"),
    "delamination": noop("skin and foam come apart"),
    "warp": noop("warped"),
    "graphic lifting": noop("graphic lifting"),
    "colour": noop("wrong or uneven colour"),
    "leak at fitting": noop("leak at a fitting"),
    "other": noop("something else"),
}
CAUSES = {
    "material": noop("the powder or its lot"),
    "blend": noop("pigment or blend"),
    "insert": noop("an insert or its finish"),
    "graphic": noop("a graphic or its lot"),
    "charge": noop("the weight of a charge, or a layer"),
    "mould": noop("the mould, its vent or its release agent"),
    "cook": noop("the cook"),
    "cooling": noop("cooling or the fixture"),
    "fitting out": noop("fitting out"),
    "use": noop("use, transport or storage after it left"),
    "none found": noop("none found"),
}
WAYS = {
    "letter": noop("by letter"),
    "e-mail": noop("by e-mail"),
    "telephone": noop("by telephone"),
    "in person": noop("in person"),
    "other": noop("in another way"),
}
SUSPECT_STANDS = {
    "suspected": noop("suspected"),
    "shown": noop("shown on the part"),
    "cleared": noop("cleared"),
}
HULLS = {
    "found": noop("found"),
    "not found": noop("not found"),
}


def word(of: dict[str, str], key: object) -> str:
    """A code of one of these lists as people say it; the code itself where the list has it no more."""
    return _(of[str(key)]) if str(key) in of else str(key)
