"""Rules met at Plates where a hull gets another plate, or was moulded anew in place of another hull."""

from collections.abc import Iterator

from tests.scan.browser import Page, Screen
from tests.scan.cast import DEPUTY, LEAD, QUALITY, SERIALS, STORES, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule, scans
from tests.scan.rules.leaving import old
from tests.scan.rules.returns import gone
from trace.recording.acts.finishing import Scrap
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.remoulds import Remould
from trace.recording.acts.returns import Return

NEW = SERIALS[5]


def afresh(screen: Screen) -> None:
    """Plates, without what was begun there before."""
    page = screen.open("plates")
    if ("do", "anew") in [button[:2] for button in page.form.buttons]:
        screen.press("anew")


def replacing(screen: Screen, serial: str, plate: str = NEW, cause: str = "burnt", **more: str) -> Page:
    """At Plates: the number until now, the new plate, what became of the old one."""
    afresh(screen)
    screen.fill(task="replace")
    scans(screen, serial, plate)
    return screen.press("replace", why=cause, **more)


def with_second(plant: Plant, screen: Screen, serial: str, plate: str = NEW, **more: str) -> Page:
    page = replacing(screen, serial, plate, **more)
    return screen.scan(plant[STORES]) if "rule RELABEL-ALONE" in page.verdict else page


@rule("RELABEL-ALONE")
def nobody_else_has_read_it(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, screen = old(plant, 1), at("plates", STORES, LEAD)
    yield lambda: replacing(screen, serial)
    yield lambda: screen.scan(plant[STORES])


@rule("RELABEL-CAUSE")
def another_reason_without_words(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, screen = old(plant, 1), at("plates", STORES, LEAD)
    yield lambda: replacing(screen, serial, cause="other")
    yield lambda: with_second(plant, screen, serial)


@rule("RELABEL-OTHER-PRODUCT")
def a_buoy_and_a_kayak_s_plate(plant: Plant, at: Opens) -> Iterator[Scan]:
    buoy, kayak, screen = old(plant, 1, "B60", "orange"), old(plant, 2), at("plates", STORES, LEAD)
    yield lambda: replacing(screen, buoy)
    yield lambda: with_second(plant, screen, kayak)


def held(plant: Plant, serial: str, kind: str) -> str:
    answer = plant.shift.scan(Hold(code=serial, rule=kind, reason="looked into"), person=QUALITY)
    return str(answer.made["holds"][0])


@rule("RELABEL-HELD")
def looked_into(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, screen = old(plant, 1), at("plates", STORES, LEAD)
    hold = held(plant, serial, "quality")
    yield lambda: replacing(screen, serial)
    plant.shift.scan(ReleaseHold(hold=hold, reason="as it should be"), person=DEPUTY)
    yield lambda: with_second(plant, screen, serial)


@rule("RELABEL-SAFETY")
def looked_for_by_its_number(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, screen = old(plant, 1), at("plates", STORES, LEAD)
    hold = held(plant, serial, "safety")
    yield lambda: replacing(screen, serial)
    plant.shift.scan(ReleaseHold(hold=hold, reason="as it should be"), person=DEPUTY)
    yield lambda: with_second(plant, screen, serial)


@rule("RELABEL-GONE")
def not_here(plant: Plant, at: Opens) -> Iterator[Scan]:
    away, here, screen = gone(plant, 1), old(plant, 2), at("plates", STORES, LEAD)
    yield lambda: replacing(screen, away)
    yield lambda: with_second(plant, screen, here)


@rule("LABEL-REPLACED")
def the_plate_before(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, screen = old(plant, 1), at("plates", STORES, LEAD)
    with_second(plant, screen, serial)
    rack = at("rack")
    yield lambda: scans(rack, plant["R5-1"], serial)
    yield lambda: rack.scan(NEW)


def anew(screen: Screen, new: str, before: str, destroyed: str = "yes") -> Page:
    afresh(screen)
    screen.fill(task="remould")
    scans(screen, new, before)
    return screen.press("remould", remark="cracked", **({"plate_destroyed": "yes"} if destroyed else {}))


@rule("REMOULD-SAME")
def one_for_itself(plant: Plant, at: Opens) -> Iterator[Scan]:
    before, new, screen = old(plant, 1), old(plant, 2), at("plates")
    yield lambda: anew(screen, new, new)
    yield lambda: anew(screen, new, before)


@rule("REMOULD-YOUNGER")
def the_other_way_round(plant: Plant, at: Opens) -> Iterator[Scan]:
    before, new, screen = old(plant, 1), old(plant, 2), at("plates")
    yield lambda: anew(screen, before, new)
    yield lambda: anew(screen, new, before)


@rule("REMOULD-PLATE-STAYS")
def its_plate_is_left(plant: Plant, at: Opens) -> Iterator[Scan]:
    before, new, screen = old(plant, 1), old(plant, 2), at("plates")
    yield lambda: anew(screen, new, before, "")
    yield lambda: anew(screen, new, before)


@rule("REMOULD-GONE")
def still_out(plant: Plant, at: Opens) -> Iterator[Scan]:
    before, new, screen = gone(plant, 1), old(plant, 2), at("plates")
    yield lambda: anew(screen, new, before)
    back = plant.shift.scan(Return(hull=before, place="R4-2", consignee="WHARFE"), person=QUALITY)
    [hold] = back.made["holds"]
    plant.shift.scan(ReleaseHold(hold=hold, reason="looked at"), person=DEPUTY)
    yield lambda: anew(screen, new, before)


@rule("REMOULD-HELD")
def not_looked_at_yet(plant: Plant, at: Opens) -> Iterator[Scan]:
    before, new, screen = old(plant, 1), old(plant, 2), at("plates")
    hold = held(plant, before, "quality")
    yield lambda: anew(screen, new, before)
    plant.shift.scan(ReleaseHold(hold=hold, reason="looked at"), person=DEPUTY)
    yield lambda: anew(screen, new, before)


@rule("REMOULD-AGAIN")
def two_for_one(plant: Plant, at: Opens) -> Iterator[Scan]:
    before, other, new, third, screen = old(plant, 1), old(plant, 2), old(plant, 3), old(plant, 4), at("plates")
    plant.shift.scan(Remould(hull=new, old=before, plate_destroyed=True), person=QUALITY)
    yield lambda: anew(screen, third, before)
    yield lambda: anew(screen, third, other)


@rule("REMOULD-OTHER-MODEL", "warned")
def a_boat_for_a_kayak(plant: Plant, at: Opens) -> Iterator[Scan]:
    before, boat, other, screen = old(plant, 1), old(plant, 2, "H320", "white"), old(plant, 3), at("plates")
    plant.shift.scan(Scrap(unit=before, plate_destroyed=True), person=QUALITY)
    yield lambda: anew(screen, boat, before, "")
    new = old(plant, 4)
    yield lambda: anew(screen, new, other)
