"""The QR symbol of a label: what it holds, its modules, and the runs of dark modules that are drawn."""

import re
from collections.abc import Iterator
from functools import lru_cache

from django.utils.translation import gettext as _
from qrcode import QRCode
from qrcode.constants import ERROR_CORRECT_Q
from qrcode.exceptions import DataOverflowError

from plant.env import LABEL_HOST
from trace.codes import parse_label_code, printable

Matrix = tuple[tuple[bool, ...], ...]

# ISO/IEC 18004 asks for four light modules round a QR symbol (from memory).
QUIET_MODULES = 4
SIDE_MODULES = {1: 21, 2: 25}
HOST_LENGTH = 10

_PAYLOAD = re.compile(r"[A-Z0-9:/.-]+")


def payload(code: str, label_host: str = "") -> str:
    """Text of the symbol: the bare label code, or `HTTPS://HOST/S/CODE` when the plant has a label host.

    All capitals, so that the symbol is written in the alphanumeric mode and stays at version 2 with error
    correction Q: 29 characters (ISO/IEC 18004, from memory), of which the host takes at most ten.
    Raises `CodeError` (a ValueError) for a code that is none, ValueError for a host that would not fit.
    """
    code = parse_label_code(code).code
    if not label_host:
        return code
    if not LABEL_HOST.fullmatch(label_host):
        raise ValueError(
            _(
                "The label host “%(host)s” does not fit the symbol. It takes at most %(most)d characters: "
                "capitals, digits, dot, hyphen and a port. Choose a shorter name such as LOT.LAN, or none."
            )
            % {"host": printable(label_host), "most": HOST_LENGTH}
        )
    return f"HTTPS://{label_host}/S/{code}"


def version_of(text: str) -> int:
    """Symbol version for a payload: 1 for the bare code, 2 for the address. It is fixed, so all labels of a
    roll have one size."""
    return 2 if "/" in text else 1


@lru_cache(maxsize=512)
def matrix(text: str) -> Matrix:
    """Modules of the symbol of a payload, `rows[y][x]`, True is dark; without the quiet zone.

    21 x 21 (version 1) or 25 x 25 (version 2), error correction Q. Raises ValueError when the text does not
    fit: never a bigger symbol. Cached because both labels of a pack show one symbol.
    """
    if not _PAYLOAD.fullmatch(text):
        raise ValueError(
            _("“%(text)s” cannot stand in a symbol. It takes capitals, digits and : / . - only.")
            % {"text": printable(text)}
        )
    version = version_of(text)
    symbol = QRCode(version=version, error_correction=ERROR_CORRECT_Q, border=0)
    symbol.add_data(text, optimize=0)
    try:
        symbol.make(fit=False)
    except DataOverflowError as error:
        raise ValueError(
            _("“%(text)s” is too long for a version %(version)d symbol. Use a shorter label host.")
            % {"text": printable(text), "version": version}
        ) from error
    return tuple(tuple(bool(dark) for dark in row) for row in symbol.get_matrix())


def runs(modules: Matrix) -> Iterator[tuple[int, int, int]]:
    """Horizontal runs of dark modules as (x, y, length), y counted from the top row.

    Filled as one path they have no seams between them and make a small file.
    """
    for y, row in enumerate(modules):
        start = None
        for x, dark in enumerate((*row, False)):
            if dark and start is None:
                start = x
            elif not dark and start is not None:
                yield start, y, x - start
                start = None
