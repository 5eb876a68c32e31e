"""What a hull's record lacks or leaves doubtful, one sentence each: said before anything else."""

from collections.abc import Iterator, Mapping

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes import printed
from trace.codes.positions import in_order, named_together
from trace.genealogy.admitted import Admitted
from trace.sheets.facts.entries import Entry
from trace.sheets.hulls.cooks import cycles
from trace.sheets.hulls.gathered import Gathered
from trace.sheets.hulls.hands import instruments, people
from trace.sheets.hulls.history import PUT_RIGHT
from trace.sheets.hulls.layers import layers, weighings
from trace.sheets.hulls.lots import certificate, could_be, name, release
from trace.sheets.hulls.placed import graphic_lines, insert_lines, zone_lines
from trace.sheets.saying import what

UNSURE_FROM_S = 60
# Said by what the sheet finds itself, more plainly than by the name of a gap.
SHOWN = {"layer", "insert", "graphic", "oven log", "cycle", "weighing", "charge"}


def gaps(gathered: Gathered) -> tuple[str, ...]:
    """The sentences: what is missing first, then what was told or is doubtful, late, corrected, unsure."""
    found = [
        *_made_before(gathered),
        *_placed(gathered),
        *_cooked(gathered),
        *_weighed(gathered),
        *_lots(gathered),
        *_measured(gathered),
        *_admitted(gathered.answer.gaps),
        *_told(gathered),
        *_undecided(gathered),
        *_hands(gathered),
        *_late(gathered),
        *_corrected(gathered),
        *_unsure(gathered),
    ]
    return tuple(dict.fromkeys(found))


def old(gathered: Gathered) -> bool:
    return gathered.hull.about.get("origin") == "before records"


def _made_before(gathered: Gathered) -> Iterator[str]:
    if old(gathered):
        yield _("Made before records began: nothing of its inside is recorded, it may hold any lot of its time.")


def _placed(gathered: Gathered) -> Iterator[str]:
    if old(gathered):
        return
    for layer in layers(gathered):
        if not layer.charges:
            could = could_be(gathered, layer.material)
            words = _(" It may be of %(lots)s.") % {"lots": could} if could else ""
            yield _("No record of the %(layer)s: no charge was tipped.") % {"layer": layer.name} + words
    for line in insert_lines(gathered):
        if line.missing:
            yield _("No record of inserts in %(places)s (%(part)s).") % {
                "places": line.positions, "part": line.part,
            }  # fmt: skip
    for graphic in graphic_lines(gathered):
        if graphic.missing:
            yield _("No record of the graphic %(zone)s.") % {"zone": graphic.position.lower()}
    if "area_m2" not in gathered.recipe:
        yield _("The recipe this hull was made by is not in the plant data: layers cannot be checked against it.")


def _cooked(gathered: Gathered) -> Iterator[str]:
    if old(gathered):
        return
    records = cycles(gathered)
    if not records:
        yield _("No oven cycle is recorded.")
    for record in records:
        if not record.log:
            yield _("No oven log for cycle %(number)s.") % {"number": record.number}
        if record.ended is None:
            yield _("No end is recorded of cycle %(number)s.") % {"number": record.number}
        elif not record.peak and record.log:
            # Without the log there is nothing to read the peak off: that is one record missing, not two.
            yield _("No peak temperature for cycle %(number)s.") % {"number": record.number}
        unseen = [s.name for s in record.stages if not s.observed]
        if unseen:
            words = ngettext(
                "Cycle %(number)s: no record of the stage %(stages)s.",
                "Cycle %(number)s: no record of the stages %(stages)s.", len(unseen),
            )  # fmt: skip
            yield words % {"number": record.number, "stages": ", ".join(_("“%(name)s”") % {"name": n} for n in unseen)}


def _weighed(gathered: Gathered) -> Iterator[str]:
    for layer in layers(gathered):
        if layer.charges and not weighings(gathered, layer.name):
            yield _("No weighing is recorded of the %(layer)s.") % {"layer": layer.name}
        elif layer.charges and layer.mg is None:
            yield _("No mass is recorded of the %(layer)s.") % {"layer": layer.name}
    for entry in weighings(gathered):
        if entry.says.get("how") == "typed":
            yield _("The %(layer)s weight was typed, not read from the scale.") % {"layer": entry.says["layer"]}


def _lots(gathered: Gathered) -> Iterator[str]:
    for lot in sorted(gathered.of_kind("lot"), key=lambda n: (n.lot_no or "", n.uid)):
        if lot.about.get("origin") == "before records":
            continue
        if certificate(gathered, lot) is None:
            yield _("Lot %(lot)s has no certificate.") % {"lot": name(lot)}
        if release(gathered, lot) is None:
            yield _("Lot %(lot)s was never released.") % {"lot": name(lot)}


def _measured(gathered: Gathered) -> Iterator[str]:
    inspected = [e for e in gathered.entries if e.kind == "inspected"]
    moved_on = any(e.kind in ("packed", "dispatched") for e in gathered.entries)
    if moved_on and not inspected and not old(gathered):
        yield _("No inspection is recorded, though it was packed.")
    unread = sorted((z.zone for z in zone_lines(gathered) if z.mm is None), key=in_order)
    if unread and inspected:
        yield _("No thickness reading in %(zones)s.") % {"zones": named_together(unread)}


def _admitted(found: tuple[Admitted, ...]) -> Iterator[str]:
    """What the trace itself admits and the sheet has not said."""
    for one in found:
        if one.what not in SHOWN and one.what != "before records":
            yield one.said
        elif one.what == "before records":
            yield _("%(code)s was there before records began.") % {"code": printed(one.code)}
        elif one.what == "charge":
            yield _("A tub was tipped into which nothing had been weighed (%(tub)s).") % {"tub": printed(one.which)}


def _only_said_above(answer: Mapping[str, object]) -> bool:
    """True when all that was flagged is the missing log, which the sheet names with its cycle."""
    return answer.get("code") == "COOK-NO-LOG" and not answer.get("also")


def _told(gathered: Gathered) -> Iterator[str]:
    """Facts told after the act that a rule would have refused, and acts that hold what they touch."""
    for entry in gathered.entries:
        answer: Mapping[str, object] = gathered.answers.get(entry.id, {})
        if not entry.flagged or _only_said_above(answer):
            continue
        words = gathered.known.spoken(f"{answer.get('what', '')} {answer.get('why', '')}".strip())
        yield _("Flagged: %(what)s (%(when)s). %(words)s") % {
            "what": what(entry, gathered.known), "when": _when(entry), "words": words,
        }  # fmt: skip


def _undecided(gathered: Gathered) -> Iterator[str]:
    """Discrepancies that were opened by these events and that nobody has closed."""
    closed = {(row["event"], row["n"]) for e in gathered.entries for row in e.part("closed")}
    closed |= gathered.closed
    for entry in gathered.entries:
        for n, row in enumerate(entry.part("discrepancies")):
            told = str(row["kind"]).startswith("told, but")
            if (entry.uid, n) not in closed and not told:
                yield _("Still undecided: %(what)s (%(when)s), %(kind)s.") % {
                    "what": what(entry, gathered.known), "kind": row["kind"], "when": _when(entry),
                }  # fmt: skip


def _hands(gathered: Gathered) -> Iterator[str]:
    for person in people(gathered):
        if person.doubtful:
            yield _("%(who)s had no live sign-off: %(trained)s.") % {
                "who": person.name, "trained": person.trained,
            }  # fmt: skip
    for instrument in instruments(gathered):
        if instrument.doubtful:
            since = f" {_('Known since:')} {instrument.since}." if instrument.since else ""
            yield _("%(name)s in doubt: %(state)s.") % {
                "name": instrument.name, "state": instrument.state_then,
            } + since  # fmt: skip


def _late(gathered: Gathered) -> Iterator[str]:
    late = [e for e in gathered.entries if e.late]
    if late:
        yield _("%(count)d entered late: %(which)s.") % {
            "count": len(late),
            "which": "; ".join(
                _("%(what)s, recorded %(when)s") % {
                    "what": what(e, gathered.known), "when": f"{timezone.localtime(e.recorded):%-d %b %H:%M}",
                }
                for e in late
            ),
        }  # fmt: skip


def _corrected(gathered: Gathered) -> Iterator[str]:
    for entry in gathered.entries:
        if entry.kind in PUT_RIGHT:
            yield f"{what(entry, gathered.known).rstrip('. ')} ({_when(entry)})."


def _unsure(gathered: Gathered) -> Iterator[str]:
    for entry in gathered.entries:
        seconds = entry.unsure.total_seconds()
        if seconds >= UNSURE_FROM_S:
            yield _("Time known to ± %(minutes)d min only: %(what)s.") % {
                "minutes": round(seconds / 60), "what": what(entry, gathered.known),
            }  # fmt: skip


def _when(entry: Entry) -> str:
    return f"{timezone.localtime(entry.happened):%-d %b %H:%M}"
