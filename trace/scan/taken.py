"""What a code filled, in words, where the page goes on asking for the same."""

from django.utils.translation import gettext as _

from trace.recording.floor import words as say
from trace.recording.floor.standing import Found
from trace.scan.sight import Slot


def taken(slot: Slot, found: Found, before: tuple[str, ...], now: tuple[str, ...]) -> str:
    """What a code filled, where the page goes on asking for the same: what it is, and how many there are."""
    taken = ", ".join(part for part in (found.key or found.name, _what(found)) if part)
    if not slot.many:
        return _("Scanned: %(taken)s.") % {"taken": taken}
    said = _("Scanned before: %(taken)s.") if found.code in before else _("Added: %(taken)s.")
    return f"{said % {'taken': taken}} {_('%(n)d so far.') % {'n': len(now)}}"


def _what(found: Found) -> str:
    """The hulls in a pack, what is in a container; nothing where the code says it all."""
    unit = found.unit
    if unit is None or found.serial:
        return ""
    hulls = [str(inner["serial"]) for inner in unit.inside if inner["serial"]]
    if hulls:
        return ", ".join(hulls)
    return say.lot_name(unit.about, unit.lot_no) if found.carrier and unit.about.get("material") else ""
