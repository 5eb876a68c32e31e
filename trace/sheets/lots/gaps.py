"""What a lot's record, or the record of what was made of it, lacks: one sentence each."""

from collections.abc import Iterator, Mapping

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes import printed
from trace.codes.positions import in_order, named_together
from trace.genealogy.admitted import Admitted
from trace.sheets.facts.entries import Entry
from trace.sheets.hulls.history import PUT_RIGHT
from trace.sheets.lots.gathered import GatheredLot
from trace.sheets.saying import what

TOGETHER = 3  # so many gaps of one kind are named one by one; more are counted


def gaps(gathered: GatheredLot) -> tuple[str, ...]:
    return tuple(dict.fromkeys([*_of_lot(gathered), *_beyond(gathered), *_of_records(gathered)]))


def _of_lot(gathered: GatheredLot) -> Iterator[str]:
    kinds = {e.kind for e in gathered.entries}
    if gathered.lot.about.get("origin") == "before records":
        yield _("There before records began: what was used of it earlier is not known.")
    elif gathered.lot.kind == "lot":
        if "certified" not in kinds:
            yield _("No certificate is recorded.")
        names = {str(e.says["lot_on_certificate"]) for e in gathered.entries if e.kind == "certified"}
        if names and gathered.lot.lot_no not in names:
            yield _("Its certificate names another lot: %(lots)s.") % {"lots": ", ".join(sorted(names))}
        if "released" not in kinds:
            yield _("It was never released.")
    if gathered.lot.lot_no is None and gathered.lot.kind == "lot":
        yield _("Nobody recorded its lot number.")


def _beyond(gathered: GatheredLot) -> Iterator[str]:
    """Gaps of what was made of it, each kind told one by one or counted."""
    kinds: dict[tuple[str, str, bool], list[Admitted]] = {}
    own = {gathered.lot.uid, *(n.uid for n in gathered.containers)}
    for gap in gathered.answer.gaps:
        if gap.what in ("before records", "lot number") and gap.unit in own:
            continue
        fills = gap.unit not in gathered.by_uid or gap.text.endswith(
            _("It may hold what is asked about.")
        )
        kinds.setdefault((gap.what, gap.which, fills), []).append(gap)
    for (kind, which, fills), found, named in _positions_together(gathered, kinds):
        if kind not in WORDS or not named:
            yield from dict.fromkeys(g.said for g in found)
            continue
        shown = ", ".join(named[:TOGETHER])
        if len(named) > TOGETHER:
            shown = _("%(count)d hulls (%(shown)s, …)") % {"count": len(named), "shown": shown}
        text = _("No record of %(what)s in %(which)s.") % {"what": _words(kind, which), "which": shown}
        yield text + (" " + _("It may be of this lot.") if fills else "")


Kind = tuple[str, str, bool]


def _positions_together(
    gathered: GatheredLot, kinds: Mapping[Kind, list[Admitted]]
) -> Iterator[tuple[Kind, list[Admitted], list[str]]]:
    """Each kind of gap with the hulls that have it; positions of inserts that the same hulls lack are one kind."""
    alike: dict[tuple[object, ...], tuple[list[str], Kind, list[Admitted], list[str]]] = {}
    for (kind, which, fills), found in kinds.items():
        named = list(dict.fromkeys(_hull_of(gathered, gap) for gap in found))
        key = (kind, tuple(named), fills) if kind == "insert" else (kind, which, fills)
        positions, _kind, every, _named = alike.setdefault(key, ([], (kind, which, fills), [], named))
        positions.append(which)
        every.extend(found)
    for positions, (kind, which, fills), every, named in alike.values():
        together = named_together(sorted(positions, key=in_order)) if len(positions) > 1 else which
        yield (kind, together, fills), every, named


WORDS = ("layer", "insert", "graphic", "oven log", "cycle", "weighing")


def _words(kind: str, which: str) -> str:
    return {
        "layer": _("the %(which)s"),
        "insert": ngettext("the insert %(which)s", "the inserts %(which)s", 1 if which.isalnum() else 2),
        "graphic": _("the graphic %(which)s"),
        "oven log": _("the oven log of cycle %(which)s"),
        "cycle": _("the oven cycle"),
        "weighing": _("the weighing of the %(which)s"),
    }[kind] % {"which": which.lower() if kind == "graphic" else which}


def _hull_of(gathered: GatheredLot, gap: Admitted) -> str:
    """The hull that a load's or moulding's gap became part of, else the unit's own code."""
    node = gathered.by_uid.get(gap.unit)
    while node is not None and node.kind in ("load", "moulding", "part", "charge"):
        below = gathered.went_into.get(node.id)
        if below is None:
            break
        node = gathered.lines[below].node
    return node.said if node is not None else printed(gap.code)


def _of_records(gathered: GatheredLot) -> Iterator[str]:
    for entry in gathered.entries:
        if entry.flagged:
            said = gathered.answers.get(entry.id, {})
            words = gathered.known.spoken(f"{said.get('what', '')} {said.get('why', '')}".strip())
            yield _("Flagged: %(what)s (%(when)s). %(words)s") % {
                "what": what(entry, gathered.known), "when": _when(entry), "words": words,
            }  # fmt: skip
        if entry.late:
            yield _("Entered late, %(when)s: %(what)s.") % {
                "when": f"{timezone.localtime(entry.recorded):%-d %b %H:%M}", "what": what(entry, gathered.known),
            }  # fmt: skip
        if entry.kind in PUT_RIGHT:
            yield f"{what(entry, gathered.known).rstrip('. ')} ({_when(entry)})."


def _when(entry: Entry) -> str:
    return f"{timezone.localtime(entry.happened):%-d %b %H:%M}"
