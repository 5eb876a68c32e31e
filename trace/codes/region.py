"""Codes of countries and their parts, as ISO 3166-2 writes them: GB-SCT, or GB where only the country is known."""

import re

# Two letters of the country, then one to three letters or digits of its part. Whether a country has such a part is not
# looked up: the lists change, and a code that cannot be one is caught by its shape.
SHAPE = re.compile(r"[A-Z]{2}(?:-[A-Z0-9]{1,3})?")


def region_code(text: str) -> str | None:
    """The code in capitals; None for text that cannot be one."""
    code = text.strip().upper()
    return code if code.isascii() and SHAPE.fullmatch(code) else None


def lies_in(code: str, wanted: str) -> bool | None:
    """Whether a place of this code lies in the wanted one; None where the code is not exact enough to say."""
    if not code or (code != wanted and wanted.startswith(f"{code}-")):
        return None
    return code == wanted or code.startswith(f"{wanted}-")
