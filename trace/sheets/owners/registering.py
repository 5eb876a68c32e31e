"""Registers owners, one or many: each row by itself, so that a bad one keeps no good one out."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from uuid import UUID, uuid5

from django.db import connection
from django.utils.translation import gettext as _

from trace.codes.plain import storable
from trace.codes.region import region_code
from trace.genealogy.owners import USES
from trace.lookup import look, plant_now
from trace.recording.acts.owners import OWNER_IS, RegisterOwner
from trace.recording.commands import By
from trace.recording.record import record
from trace.speech import speak

MOST_ROWS = 200
# Fewer signs of a plate fit too much by chance.
LEAST_SIGNS = 3
LONGEST = 200
FITTING = """
SELECT t.text FROM serial_state t WHERE t.hull IS NOT NULL
  AND translate(t.text, '- ./', '') LIKE %s ORDER BY t.text LIMIT 2
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One registration as it was typed; the order of the fields is that of a pasted table."""

    plate: str = ""
    sold: str = ""
    region: str = ""
    use: str = ""
    owner: str = ""
    contact: str = ""
    owner_is: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a row: the hull's plate where it was kept; `said` is why it was not, or what is odd about it."""

    row: Row
    hull: str
    kept: bool
    said: str = ""


COLUMNS = tuple(field.name for field in fields(Row))


def pasted(text: str) -> list[Row]:
    """The rows of a table as it is copied out of a spreadsheet, cells apart by tabs or semicolons. A heading, which has
    no figure in its first cell, is passed over."""
    lines = [line for line in text.splitlines() if line.strip(" \t;")]
    cells = [[cell.strip() for cell in line.replace("\t", ";").split(";")] for line in lines]
    if cells and not any(sign.isdigit() for sign in cells[0][0]):
        cells = cells[1:]
    return [Row(**dict(zip(COLUMNS, row, strict=False))) for row in cells]


def hull_of(plate: str) -> tuple[str, str]:
    """(plate of the one hull that this can be, why it is none), of which one is empty. ? is a sign that nobody could
    read; a part is enough where it fits one hull alone."""
    text = plate.strip()
    if text:
        found = look([text], plant_now(), ("hull", "plate"))[text]
        if found.hull:
            return found.code, ""
    part = storable("".join(sign for sign in text.upper() if sign not in "- ./"))[:60]
    if sum(sign not in "?*" for sign in part) < LEAST_SIGNS:
        return "", _("“%(plate)s” is too little of a plate: give three signs or more of it.") % {"plate": text[:40]}
    for sign in ("\\", "%", "_"):
        part = part.replace(sign, f"\\{sign}")
    with connection.cursor() as cursor:
        cursor.execute(FITTING, [f"%{part.replace('?', '_').replace('*', '%')}%"])
        fits = [serial for (serial,) in cursor.fetchall()]
    if not fits:
        return "", _("No hull has a plate like “%(plate)s”.") % {"plate": text[:40]}
    if len(fits) > 1:
        return "", _("“%(plate)s” fits several plates: give another sign of it.") % {"plate": text[:40]}
    return fits[0], ""


def register(rows: Sequence[Row], person: str, device: str, number: UUID) -> list[Outcome]:
    """What came of each row, in their order. `number` is that of the form or the call: sent again, it counts once."""
    return [_one(row, person, device, uuid5(number, str(n))) for n, row in enumerate(rows[:MOST_ROWS])]


def _one(row: Row, person: str, device: str, number: UUID) -> Outcome:
    plate, trouble = hull_of(row.plate)
    if trouble:
        return Outcome(row, "", kept=False, said=trouble)
    command = RegisterOwner(
        hull=plate, owner_is=_word(row.owner_is, OWNER_IS) or "first", sold=row.sold,
        region=region_code(row.region) or row.region, use=_word(row.use, USES), owner=row.owner[:LONGEST],
        contact=row.contact[:LONGEST],
    )  # fmt: skip
    answer = record(command, By(person=person, station="owners", device=device, scan_id=number))
    said = speak(" ".join(part for part in (answer.what, answer.now) if part)) if answer.code else ""
    return Outcome(row, plate, kept=answer.outcome != "refused", said=said)


def _word(typed: str, words: dict[str, str]) -> str:
    """The word of a list by itself or as people say it; what is in no list as it was typed, so that a rule says so."""
    text = typed.strip().lower()
    return next((code for code, said in words.items() if text in (code, said, _(said).lower())), text)
