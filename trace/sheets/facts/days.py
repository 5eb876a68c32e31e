"""Days as a sheet shows them: written one way, be it a day, a month or only a year that was recorded."""

import re
from datetime import date

from django.utils import dateformat


def day_said(text: object) -> str:
    """"2026-10-01" as "1 Oct 2026", "2026-10" as "Oct 2026"; any other text as it is."""
    found = re.fullmatch(r"(\d{4}-\d\d)(-\d\d)?(?:T.*)?", str(text))
    try:
        day = date.fromisoformat(f"{found[1]}{found[2] or '-01'}") if found else None
    except ValueError:
        day = None
    if found is None or day is None:
        return str(text)
    return dateformat.format(day, "j M Y" if found[2] else "M Y")
