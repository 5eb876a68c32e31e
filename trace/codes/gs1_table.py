"""The GS1 application identifiers this plant reads: format, check and companions of each.

Facts from the GS1 Barcode Syntax Dictionary (Apache-2.0). Companions are checked where a missing or clashing
one changes what the label says; the dictionary asks for more of them.
"""

import re
from dataclasses import dataclass

Codes = tuple[str, ...]
# Character set 82 of the GS1 General Specifications.
_SET_82 = r"[!\"%&'()*+,\-./0-9:;<=>?A-Z_a-z]"


@dataclass(frozen=True, slots=True)
class Identifier:
    """One application identifier.

    `form` says in words what its value looks like; `length` is set when the value ends without a separator.
    `check` names what is looked at beyond the characters: "key" (check digit), "pieces" (check digit and
    piece of total), "date" or "time". `needs` holds groups of identifiers of which one must stand on the
    same label, `excludes` those that must not.
    """

    code: str
    title: str
    value: re.Pattern[str]
    form: str
    length: int | None = None
    check: str = ""
    needs: tuple[Codes, ...] = ()
    excludes: Codes = ()


def _digits(
    code: str,
    title: str,
    size: int,
    check: str = "",
    *,
    needs: tuple[Codes, ...] = (),
    excludes: Codes = (),
    separated: bool = False,
) -> Identifier:
    pattern, form = re.compile(f"[0-9]{{{size}}}"), f"It has exactly {size} digits."
    return Identifier(code, title, pattern, form, None if separated else size, check, needs, excludes)


def _upto(
    code: str, title: str, size: int, *, needs: tuple[Codes, ...] = (), excludes: Codes = ()
) -> Identifier:
    pattern, form = re.compile(f"{_SET_82}{{1,{size}}}"), f"It has 1 to {size} letters, digits or marks."
    return Identifier(code, title, pattern, form, None, "", needs, excludes)


def _count(code: str, title: str, *, needs: tuple[Codes, ...] = ()) -> Identifier:
    return Identifier(code, title, re.compile("[0-9]{1,8}"), "It has 1 to 8 digits.", None, "", needs)


_ROWS = (
    _digits("00", "serial shipping container code", 18, "key"),
    _digits("01", "trade item number", 14, "key"),
    _digits("02", "number of contained trade items", 14, "key", needs=(("37",),), excludes=("01", "03")),
    _digits("03", "made-to-order trade item number", 14, "key"),
    _upto("10", "lot", 20),
    _digits("11", "production date", 6, "date"),
    _digits("12", "due date", 6, "date"),
    _digits("13", "packing date", 6, "date"),
    _digits("15", "best before date", 6, "date"),
    _digits("16", "sell by date", 6, "date"),
    _digits("17", "expiry date", 6, "date"),
    _digits("20", "variant", 2),
    _upto("21", "serial", 20, needs=(("01", "03", "8006"),)),
    _upto("22", "consumer product variant", 20, needs=(("01",),)),
    _upto("235", "third-party serial", 28, needs=(("01",),), excludes=("21",)),
    _upto("240", "additional item number", 30),
    _upto("241", "customer's part number", 30),
    _upto("251", "reference to source", 30),
    _upto("254", "location extension", 20, needs=(("414",),)),
    _count("30", "count of items"),
    _count("37", "count of contained items", needs=(("02", "8026"), ("00",))),
    _upto("400", "customer's order number", 30),
    *(_digits(f"41{n}", "location number", 13, "key") for n in range(8)),
    _digits("8006", "piece of a trade item", 18, "pieces", excludes=("01", "37"), separated=True),
    Identifier(
        "8008",
        "production time",
        re.compile("(?:[0-9]{2}){4,6}"),
        "It has 8, 10 or 12 digits, YYMMDDhh and minutes and seconds if known.",
        check="time",
    ),
    _digits(
        "8026", "pieces contained", 18, "pieces", needs=(("37",),), excludes=("02", "8006"), separated=True
    ),
    _upto("90", "agreed between partners", 30),
    *(_upto(str(n), "internal", 90) for n in range(91, 100)),
    *(_digits(f"310{n}", "net weight in kg", 6, needs=(("01", "02"),)) for n in range(6)),
    *(_digits(f"330{n}", "gross weight in kg", 6, needs=(("00", "01"),)) for n in range(6)),
)
IDENTIFIERS = {row.code: row for row in _ROWS}

# Primary keys of a GS1 Digital Link path, each with the orders in which qualifiers may follow.
LINK_QUALIFIERS: dict[str, tuple[tuple[str, ...], ...]] = {
    "00": (),
    "01": (("22", "10", "21"), ("235",)),
    "414": (("254",),),
    "417": (),
    "8006": (("22", "10", "21"),),
}
