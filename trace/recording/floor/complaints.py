"""What is known of a complaint or a case while something is recorded of it, and the next number of each."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection

LARGEST = 2**31 - 1  # what a column of numbers holds


@dataclass(frozen=True)
class ComplaintNow:
    """A complaint as it stands. `event`: the uid of the event that told it; `hull`: the hull's uid, `serial` its plate,
    both empty while nobody knows which it is."""

    number: int
    event: str
    hull: str | None
    serial: str | None
    case: int | None
    open: bool


@dataclass(frozen=True)
class CaseNow:
    """A case as it stands, with its complaints by number."""

    number: int
    event: str
    open: bool
    complaints: tuple[ComplaintNow, ...]


OF_COMPLAINT = "c.number, v.uid::text, u.uid::text, t.text, c.case, c.open"
BESIDE = """LEFT JOIN event v ON v.id = c.event LEFT JOIN unit u ON u.id = c.hull
LEFT JOIN serial_state t ON t.hull = c.hull"""
COMPLAINTS = f"SELECT {OF_COMPLAINT} FROM complaint c {BESIDE} WHERE c.number = ANY (%s) ORDER BY c.number"
CASE = f"""
SELECT w.uid::text, f.open, {OF_COMPLAINT} FROM case_file f JOIN event w ON w.id = f.event
LEFT JOIN complaint c ON c.case = f.number {BESIDE} WHERE f.number = %s ORDER BY c.number
"""
# Numbers are given out while the gate is held alone: none is left out, and none given twice.
NEXT_COMPLAINT, NEXT_CASE = (
    f"SELECT COALESCE(max(number), 0) + 1 FROM {table}" for table in ("complaint", "case_file")
)


def _ask(sql: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, list(values))
        return list(cursor.fetchall())


def complaints(numbers: Sequence[int]) -> list[ComplaintNow]:
    """Those of these complaints that there are, by number."""
    wanted = [number for number in numbers if 0 < number <= LARGEST]
    return [ComplaintNow(*row) for row in _ask(COMPLAINTS, [wanted])]


def case(number: int) -> CaseNow | None:
    found = _ask(CASE, [number]) if 0 < number <= LARGEST else []
    if not found:
        return None
    event, still_open = found[0][:2]
    return CaseNow(number, event, still_open, tuple(ComplaintNow(*row[2:]) for row in found if row[2] is not None))


def open_of(hull: int) -> list[tuple[int, str]]:
    """(number, symptom) of the open complaints of a hull, by its id."""
    return [
        (number, symptom)
        for number, symptom in _ask("SELECT number, symptom FROM complaint WHERE hull = %s AND open ORDER BY 1", [hull])
    ]


def next_complaint() -> int:
    return int(_ask(NEXT_COMPLAINT)[0][0])


def next_case() -> int:
    return int(_ask(NEXT_CASE)[0][0])


def hold_is_known(hold: str) -> bool:
    """Whether a hold of this uid was ever laid."""
    return bool(_ask("SELECT EXISTS (SELECT FROM hold WHERE uid::text = %s)", [hold])[0][0])


def words_there(notes: Sequence[str]) -> set[str]:
    """Those of the digests behind which words still stand."""
    rows = _ask("SELECT digest FROM note WHERE digest = ANY (%s) AND erased_by IS NULL", [list(notes)])
    return {digest for (digest,) in rows}


def notes_of(number: int) -> list[str]:
    """The digests of a complaint's buyer, contact and words, as far as these still stand."""
    rows = _ask(
        """SELECT n.digest FROM complaint c JOIN event v ON v.id = c.event
            CROSS JOIN LATERAL unnest(ARRAY['buyer', 'contact', 'story']) AS field
             JOIN note n ON n.digest = v.body::jsonb->'says'->>field AND n.erased_by IS NULL
            WHERE c.number = %s ORDER BY n.digest""",
        [min(max(number, 0), LARGEST)],
    )
    return [digest for (digest,) in rows]
