"""Retained samples that can still be looked at: of what each was taken, as known on a day."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import nodes

# What was used in a test or discarded is kept no longer, from when that was recorded.
KEPT = f"""
SELECT s.id, e.parent, (SELECT l.id FROM unit l WHERE l.uid::text = f.about->>'lot')
  FROM edge e JOIN unit s ON s.id = e.child AND s.kind = 'sample' JOIN unit f ON f.id = e.parent
 WHERE e.parent = ANY (%(units)s::bigint[]) AND e.role = 'sample' AND NOT e.aside AND {LIVE}
   AND NOT EXISTS (SELECT FROM event_unit x JOIN event v ON v.id = x.event WHERE x.unit = s.id
     AND v.kind = 'sample_ended' AND v.recorded <= %(known)s::timestamptz)
 ORDER BY s.id
"""


@dataclass(frozen=True, slots=True)
class Sample:
    """`of`: the filling that it was taken of, `lot`: what that was delivered as, None of a mix; `code`: its label."""

    unit: int
    of: int
    lot: int | None
    code: str

    def tells_of(self, suspect: int) -> bool:
        """Whether it is of the suspect and of nothing else."""
        return suspect in (self.of, self.lot)


def kept_samples(fillings: Collection[int], known: datetime) -> list[Sample]:
    """Those taken of these fillings that were neither used nor discarded by then, the oldest first."""
    found = fetch_rows(KEPT, {"units": id_array(fillings), "known": known_by(known)}) if fillings else []
    told = nodes([unit for unit, _of, _lot in found], known)
    return [Sample(unit, of, lot, told[unit].code) for unit, of, lot in found]
