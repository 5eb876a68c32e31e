"""What 33 CFR 179 and 46 USC 4310 ask of the maker of a boat, to be looked through; the record asks nobody else.

The items are put in our words after the text of 33 CFR 179.05 to 179.15 and of 46 USC 4310. Whether they apply, and
what fulfils them, is for counsel.
"""

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext_lazy

from trace.pages.recalls.contract import Tick

# Code -> (where it is asked for, what).
CHECKLIST = {
    "30 days": ("33 CFR 179.05", gettext_lazy("the notice goes out within 30 days after the defect was found")),
    "maker": ("33 CFR 179.09(a)", gettext_lazy("the notice names the maker and the maker's address")),
    "which": (
        "33 CFR 179.09(b)",
        gettext_lazy("the notice names make, model year if it has one, and from when to when, or which numbers"),
    ),
    "defect": ("46 USC 4310", gettext_lazy("the notice describes the defect, its hazard and what puts it right")),
    "cost": ("46 USC 4310", gettext_lazy("the notice says that the maker bears the cost of putting it right")),
    "dealers": ("46 USC 4310", gettext_lazy("dealers are told, first purchasers, and later owners that are known")),
    "copies": ("33 CFR 179.13(a)(1)", gettext_lazy("a copy of each notice goes to the Commandant at the same time")),
    "estimate": ("33 CFR 179.13(a)(2)", gettext_lazy("the best estimate of how many are affected")),
    "chronology": ("33 CFR 179.13(a)(3)", gettext_lazy("a chronology of the main events, where they are known")),
    "60 days": ("33 CFR 179.15(a)", gettext_lazy("a follow-up report within 60 days, naming the first report")),
    "found": ("33 CFR 179.15(a)(2)", gettext_lazy("in how many the defect was found by then")),
    "done": ("33 CFR 179.15(a)(3)", gettext_lazy("on how many the work was done by then")),
    "not reached": (
        "33 CFR 179.15(a)(4)",
        gettext_lazy("how many first purchasers could not be told, their name or address being out of date"),
    ),
}


def ticks(ticked: Iterable[str], figures: Mapping[str, str]) -> tuple[Tick, ...]:
    """The list with what was ticked; `figures`: what the records say to an item, by its code."""
    done = set(ticked)
    return tuple(
        Tick(code, where, str(said), code in done, figures.get(code, "")) for code, (where, said) in CHECKLIST.items()
    )
