"""How likely it is that two plates are exchanged, and what speaks for it, in words."""

from decimal import Decimal

from django.utils.translation import gettext as _

from trace.quality.plates_seen import Bound
from trace.quality.swapped import Exchange

# Odds above this take more than one thing seen.
VERY = 1000


def likely(pair: Exchange) -> str:
    """In one sentence: how likely, and whether colours, masses or both say so."""
    very = pair.odds > VERY
    if pair.by_sight > 0 and pair.by_mass > 0:
        return _("Very likely, by colour and mass") if very else _("Likely, by colour and mass")
    if pair.by_sight > 0:
        return _("Very likely, by colour") if very else _("Likely, by colour")
    return _("Very likely, by mass alone") if very else _("Likely, by mass alone")


def odds(pair: Exchange) -> str:
    return f"{pair.odds:,.0f}"


def kilograms(value: Decimal | None) -> str:
    """As a scale shows it, with two decimals or as many as there are; "" for none."""
    if value is None:
        return ""
    return f"{value:.2f}" if value == round(value, 2) else f"{value.normalize():f}"


def fits(one: Bound, beside: Bound) -> str:
    """What was seen and weighed of a hull beside what the records make it and the other."""
    said = []
    if one.seen:
        said.append(_("seen %(seen)s, made %(made)s") % {"seen": one.seen, "made": one.recorded or _("not known")})
    if one.weighed is not None and one.charged is not None and beside.charged is not None:
        words = {"kg": kilograms(one.weighed), "own": f"{one.charged:.2f}", "other": f"{beside.charged:.2f}"}
        said.append(_("weighed %(kg)s kg of %(own)s kg charged, the other of %(other)s kg") % words)
    return f"{one.plate}: {'; '.join(said)}." if said else _("%(plate)s: nobody said.") % {"plate": one.plate}
