"""What an answer about many hulls admits, said once for each kind of missing record, with the list behind it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes.positions import in_order, named_together
from trace.genealogy.admitted import Admitted
from trace.genealogy.live import LIVE, known_by
from trace.genealogy.missing import OLD_KINDS
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import nodes

# The hulls that a load, a moulding or a part became whole; powder that lacks a record is no hull.
BECAME = f"""
WITH RECURSIVE w(root, unit) AS (
  SELECT u.uid, u.id FROM unit u WHERE u.uid = ANY (%(uids)s::uuid[]) AND u.kind = ANY (%(kinds)s::text[])
  UNION
  SELECT w.root, c.child FROM w, LATERAL (SELECT e.child FROM edge e WHERE e.parent = w.unit
     AND e.role IN ('cavity', 'cut', 'join', 'bind') AND NOT e.aside AND {LIVE} OFFSET 0) c)
SELECT w.root::text, w.unit FROM w JOIN unit u ON u.id = w.unit AND u.kind = 'hull'
"""
# Gaps of these are told of several positions, layers or zones of one thing.
PLACED = ("insert", "layer", "graphic")


@dataclass(frozen=True, slots=True)
class GapGroup:
    """Gaps of one kind: how many hulls lack what, and a line for each thing that lacks it."""

    said: str
    lines: tuple[str, ...]


def grouped_gaps(gaps: Sequence[Admitted], known: datetime) -> tuple[str | GapGroup, ...]:
    """A sentence for what one thing lacks, a group for what several do; in the order of the gaps."""
    plates = _plates(gaps, known)
    kinds: dict[tuple[str, bool], list[Admitted]] = {}
    for gap in gaps:
        kinds.setdefault((gap.what, _fills(gap)), []).append(gap)
    found: list[str | GapGroup] = []
    for (what, fills), alike in kinds.items():
        of: dict[str, list[Admitted]] = {}
        for gap in alike:
            of.setdefault(gap.unit, []).append(gap)
        lines = [line for unit, some in of.items() for line in _lines(what, some, plates.get(unit, ()))]
        together = len(of) > 1 and what in _words()
        found += [GapGroup(_said(what, of, plates, fills=fills), tuple(lines))] if together else lines
    return tuple(dict.fromkeys(found))


def _plates(gaps: Sequence[Admitted], known: datetime) -> Mapping[str, Sequence[str]]:
    """The plates of the hulls that each thing with a gap became, by its uid."""
    asked = {
        "uids": sorted({gap.unit for gap in gaps if gap.unit}), "kinds": sorted(OLD_KINDS), "known": known_by(known),
    }  # fmt: skip
    rows = fetch_rows(BECAME, asked) if asked["uids"] else ()
    hulls = nodes({hull for _uid, hull in rows}, known)
    found: dict[str, list[str]] = {}
    for uid, hull in rows:
        if hull in hulls:
            found.setdefault(uid, []).append(hulls[hull].said)
    return found


def _fills(gap: Admitted) -> bool:
    return gap.said.endswith(_("It may hold what is asked about."))


def _lines(what: str, gaps: Sequence[Admitted], plates: Sequence[str]) -> list[str]:
    """The sentences of one thing, with the hull that came of it; positions that it lacks are named together."""
    said = [_together(gaps)] if what in PLACED else [gap.said for gap in gaps]
    named = ", ".join(sorted(plates))
    return [line if not named or named in line else f"{named}: {line}" for line in said]


def _together(gaps: Sequence[Admitted]) -> str:
    """One sentence of several that differ in the position alone."""
    first = gaps[0]
    named = named_together(sorted({gap.which for gap in gaps}, key=in_order))
    return first.said.replace(f"“{first.which}”", f"“{named}”") if len(gaps) > 1 else first.said


def _said(what: str, of: Mapping[str, object], plates: Mapping[str, Sequence[str]], *, fills: bool) -> str:
    n = len({plate for unit in of for plate in plates.get(unit, ())})
    many = ngettext("%(n)d hull", "%(n)d hulls", n) if n else ngettext("%(n)d time", "%(n)d times", len(of))
    words = f"{many % {'n': n or len(of)}}: {_words()[what]}."
    return f"{words} {_('What is asked about may be in it.')}" if fills else words


def _words() -> dict[str, str]:
    """What is not recorded, by the kind of gap."""
    return {
        "insert": _("box of the inserts not recorded"),
        "layer": _("powder of a layer not recorded"),
        "graphic": _("roll of a graphic not recorded"),
        "oven log": _("no oven log"),
        "cycle": _("oven cycle not recorded"),
        "stop length": _("length of a stop of the arm not recorded"),
        "weighing": _("weighing not recorded"),
        "charge": _("tub tipped into which nothing was weighed"),
        "consignee": _("to whom it went not recorded"),
        "amount": _("how much went in not recorded"),
        "before records": _("made before records began"),
    }
