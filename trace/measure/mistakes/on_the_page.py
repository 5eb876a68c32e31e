"""Mistakes made at the pages themselves, by a person signed on at a screen; and a whole load scanned there, counted."""

from trace.measure.mistakes.floor import LAYERS, CaughtError, Floor, StoryError
from trace.measure.mistakes.kind import Kinds
from trace.measure.mistakes.screen import Screen, code_of

PAGE = Kinds()
FORBIDDEN = 403


def _checked(f: Floor) -> Screen:
    """A weighing station whose scale was checked today, order and scale scanned."""
    check = Screen("P-03").open("check-weight")
    check.scan(code_of("instrument", "W-3"))
    _accepted(check, check.press("send", shown="10.00"))
    screen = Screen("P-01").open("weigh")
    for kind, key in (("works_order", "WO-1041"), ("instrument", "W-3")):
        screen.scan(code_of(kind, key))
    f.when = "scan"
    return screen


def _accepted(screen: Screen, outcome: str) -> None:
    if outcome != "accepted":
        raise StoryError(f"{screen.slug}: {screen.status} {outcome} {screen.page.verdict}")


def _caught(screen: Screen, outcome: str) -> None:
    """CaughtError where the page objected; a scan of which nothing came of is none."""
    if screen.status == FORBIDDEN:
        raise CaughtError("scan", "refused", "no right to the station")
    if outcome not in ("", "accepted"):
        raise CaughtError("scan", outcome, screen.page.verdict[:40])


@PAGE.of("at the page: another material's box scanned")
def other_box(f: Floor, n: int) -> None:
    screen = _checked(f)
    for code in (f[("lime", "hard", "m8", "natural2")[n % 4]], f["tubs"][0]):
        _caught(screen, screen.scan(code))
    _caught(screen, screen.press("send", gross="14.00", tare="1.80"))


@PAGE.of("at the page: a hull, a mould or a place scanned where a box is asked")
def other_thing(f: Floor, n: int) -> None:
    screen = _checked(f)
    code = (f["hulls"][0], code_of("mould", "T430-01"), f["side"], code_of("place", "R4-2"))[n % 4]
    for one in (code, f["tubs"][0]):
        _caught(screen, screen.scan(one))
    _caught(screen, screen.press("send", gross="14.00", tare="1.80"))


@PAGE.of("at the page: a figure with a letter, a comma too many, or below nothing")
def bad_figure(f: Floor, n: int) -> None:
    screen = _checked(f)
    for code in (f["red"], f["tubs"][0]):
        screen.scan(code)
    _caught(screen, screen.press("send", gross=("12.2O", "-14.00", "1,4,0", "14.00.")[n % 4], tare="1.80"))


@PAGE.of("at the page: a station that is not theirs")
def no_right(f: Floor, n: int) -> None:
    f.when = "scan"
    who, slug = (("P-01", "release"), ("P-07", "certificate"), ("P-02", "release-hold"), ("P-08", "weigh"))[n % 4]
    screen = Screen(who).open(slug)
    _caught(screen, "")


@PAGE.of("at the page: mould and plate of two different arms")
def other_plate(f: Floor, n: int) -> None:
    f.load_whole()
    f.bake(["T430-01"])
    f.when = "scan"
    screen = Screen("P-01").open("demould")
    _caught(screen, screen.scan(code_of("mould", "T430-01") if n % 2 else code_of("mould", "T430-02")))
    _caught(screen, screen.scan(f["hulls"][n % 6]))


def scans_of_a_load(f: Floor) -> int:
    """What a person scans, types or presses for one hull of three layers, from the order to the closed mould."""
    _checked(f)
    tubs = f.tubs()
    weigh = Screen("P-01").open("weigh")
    weigh.scan(code_of("works_order", "WO-1041"))
    weigh.scan(code_of("instrument", "W-3"))
    for layer, tub in zip(LAYERS, tubs, strict=True):
        weigh.scan(f.box_of("WO-1041", layer))
        weigh.scan(tub)
        command = f.weighing("WO-1041", layer, tub)
        _accepted(weigh, weigh.press("send", gross=command.gross, tare=command.tare))
    load = Screen("P-01").open("load")
    load.scan(code_of("mould", "T430-01"))
    load.scan(code_of("works_order", "WO-1041"))
    _accepted(load, load.scan(code_of("machine", "S1")))
    for code in (f["side"], f["side"], f["capacity"], f["m8"], f["m6"], *tubs):
        _accepted(load, load.scan(code))
    _accepted(load, load.press("close", counted="12"))
    return weigh.sent + load.sent
