"""Rules met where a hull is inspected or scrapped."""

from collections.abc import Iterator

from tests.scan.browser import Page, Screen
from tests.scan.cast import DEPUTY, SERIALS, WAREHOUSE, Plant, cook, hull, load, passed
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, refused_with, rule
from tests.scan.rules.plates import moulding_of, waiting
from tests.scan.rules.weighing import define
from trace.demo.plant import products
from trace.recording.acts.corrections import CloseDiscrepancy
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.packing import Pack

ZONES = {f"zone_{zone}": "4.1" for zone in products()["T430"]["zones"]}
ALL = {"check_surface": "yes", "check_inserts": "yes", "check_plate": "yes", **ZONES}


def inspecting(plant: Plant, open_: Opens) -> Screen:
    hull(plant)
    screen = open_("inspect")
    screen.scan(SERIALS[0])
    return screen


@rule("INSPECT-HELD")
def held_hull(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    [hold] = plant.shift.scan(Hold(code=SERIALS[0], reason="scratch"), person="P-03").made["holds"]
    yield lambda: screen.press("pass", **ALL)
    plant.shift.scan(ReleaseHold(hold=hold, reason="polished"), person=DEPUTY)
    yield lambda: screen.press("pass", **ALL)


@rule("INSPECT-UNCHECKED")
def not_looked_at(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    yield lambda: screen.press("pass", check_surface="yes")
    yield lambda: screen.press("pass", **ALL)


@rule("INSPECT-RECORD-MISSING")
def record_missing(plant: Plant, at: Opens) -> Iterator[Scan]:
    """A hull without its oven log; the hold is ended by named evidence, the gap stays."""
    load(plant)
    plant.shift.cook(["T430-01"], "S1", log="missing")
    from trace.models import Hold as Laid

    uid = str(Laid.objects.order_by("-id")[0].uid)
    plant.shift.scan(ReleaseHold(hold=uid, reason="logger read by hand"), person=DEPUTY)
    plant.shift.demould_and_bind("T430-01", SERIALS[0])
    hull(plant, 1, "T430-02", "S2")
    screen = at("inspect")
    screen.scan(SERIALS[0])
    yield lambda: screen.press("pass", **ALL)
    yield lambda: [screen.scan(SERIALS[1]), screen.press("pass", **ALL)][-1]


@rule("INSPECT-GONE")
def packed_already(plant: Plant, at: Opens) -> Iterator[Scan]:
    passed(plant)
    plant.shift.scan(Pack(order="SO-220", hulls=(SERIALS[0],)), person=WAREHOUSE)
    hull(plant, 1, "T430-02", "S2")
    screen = at("inspect")
    screen.scan(SERIALS[0])
    yield lambda: screen.press("pass", **ALL)
    yield lambda: [screen.open("inspect"), screen.scan(SERIALS[1]), screen.press("pass", **ALL)][-1]


@rule("ZONE-THIN", "flagged")
def thin(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    hull(plant, 1, "T430-02", "S2")
    yield lambda: screen.press("pass", **ALL | {"zone_Z1": "3.3"})
    yield lambda: [screen.scan(SERIALS[1]), screen.press("pass", **ALL | {"zone_Z1": "3.4"})][-1]


@rule("AMOUNT-UNREADABLE")
def zone_in_tenths(plant: Plant, at: Opens) -> Iterator[Scan]:
    """41 for 4.1: no wall is ten times its least."""
    screen = inspecting(plant, at)
    bad = ALL | {"zone_Z1": "41"}
    yield lambda: refused_with(screen.press("pass", **bad), "“41” is not a thickness for Z1, whose least is 3.4 mm")
    yield lambda: screen.press("pass", **ALL)


@rule("AMOUNT-UNREADABLE")
def hull_heavier_than_what_went_in(plant: Plant, at: Opens) -> Iterator[Scan]:
    """2860 for 28.60: twice what was charged is as far as it goes."""
    screen = inspecting(plant, at)
    words = "2860 kg is impossible: 28.67 kg were charged"
    yield lambda: refused_with(screen.press("pass", **ALL, mass="2860"), words)
    yield lambda: screen.press("pass", **ALL, mass="57.34")


@rule("AMOUNT-UNREADABLE")
def moulding_heavier_than_what_went_in(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = waiting(plant, at)
    yield lambda: refused_with(screen.scan(SERIALS[0], mass="284"), "284 kg is impossible: 28.67 kg were charged")
    yield lambda: screen.scan(SERIALS[0], mass="28.4")


@rule("AMOUNT-UNREADABLE")
def moulding_lighter_than_half(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = waiting(plant, at)
    yield lambda: screen.scan(SERIALS[0], mass="2.84")
    yield lambda: screen.scan(SERIALS[0], mass="14.34")


@rule("INSPECT-OTHER-COLOUR", "flagged")
def seen_in_another_colour(plant: Plant, at: Opens) -> Iterator[Scan]:
    """One press; whoever says nothing of the colour is asked nothing."""
    screen = inspecting(plant, at)
    hull(plant, 1, "T430-02", "S2")
    assert screen.page is not None
    assert "teal" in screen.page.form.offered["colour"] and "colour" not in screen.page.form.values

    def seen() -> Page:
        page = screen.press("pass", **ALL, colour="teal")
        return refused_with(page, "Seen teal, but made red by the records.")

    yield seen
    yield lambda: [screen.scan(SERIALS[1]), screen.press("pass", **ALL, colour="red")][-1]


@rule("AMOUNT-UNREADABLE")
def no_colour_of_this_model(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    assert screen.page is not None
    sent = {**ALL, "colour": "sheen"}
    yield lambda: screen.send(screen.page.form, sent, ("do", "pass"))  # type: ignore[union-attr]
    yield lambda: screen.press("pass", **ALL)


@rule("MASS-LIGHT", "flagged")
def foam_not_in_it(plant: Plant, at: Opens) -> Iterator[Scan]:
    """28.67 kg were charged; without the foam 19.52 kg came out of the mould."""
    screen = waiting(plant, at)
    yield lambda: screen.scan(SERIALS[0], mass="19.60")
    cook(plant, 1, "T430-02", "S2")
    screen.open("demould")
    screen.scan(plant["T430-02"])
    yield lambda: screen.scan(SERIALS[1], mass="28.60")


@rule("MASS-HEAVY", "flagged")
def inner_in_it_twice(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    yield lambda: screen.press("pass", **ALL, mass="35.99")
    yield lambda: [screen.open("inspect"), screen.scan(SERIALS[0]), screen.press("fail", **ALL, mass="28.70")][-1]


@rule("ZONE-UNREAD")
def zone_left_out(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    yield lambda: screen.press("pass", **ALL | {"zone_Z2": ""})
    yield lambda: screen.press("pass", **ALL)


@rule("ZONE-UNREAD")
def zone_read_when_it_failed(plant: Plant, at: Opens) -> Iterator[Scan]:
    """What was read at an earlier look counts; what was not is still asked for."""
    screen = inspecting(plant, at)
    screen.press("fail", **ALL | {"zone_Z2": ""}, remark="blow-hole at the seat")
    from trace.models import Hold as Laid

    uid = str(Laid.objects.order_by("-id")[0].uid)
    plant.shift.scan(ReleaseHold(hold=uid, reason="filled"), person="P-10")
    unread = ALL | dict.fromkeys(ZONES, "")
    yield lambda: [screen.open("inspect"), screen.scan(SERIALS[0]), screen.press("pass", **unread)][-1]
    yield lambda: screen.press("pass", **unread | {"zone_Z2": "4.0"})


@rule("INSPECT-QUESTION")
def question_open(plant: Plant, at: Opens) -> Iterator[Scan]:
    """Its plate was told as bound against a rule: a person has to say what came of it."""
    from trace.models import Discrepancy, Event
    from trace.models import Hold as Laid

    load(plant)
    plant.shift.cook(["T430-01"], "S1")
    plant.shift.scan(Demould(mould="T430-01"), station="demould")
    define(plant, "setting", "rule:BOUND-LATE", value="refuse")
    define(plant, "setting", "bind within minutes", value=0)
    plant.shift.scan(Bind(mould="T430-01", plate=SERIALS[0]), mode="tells")
    define(plant, "setting", "bind within minutes", value=120)
    uid = str(Laid.objects.order_by("-id")[0].uid)
    plant.shift.scan(ReleaseHold(hold=uid, reason="plate and moulding compared"), person="P-10")
    screen = at("inspect")
    screen.scan(SERIALS[0])
    yield lambda: screen.press("pass", **ALL)
    question = Discrepancy.objects.get(closed_by=None)
    event = str(Event.objects.get(pk=question.event).uid)
    plant.shift.scan(CloseDiscrepancy(event=event, n=question.n, reason="explained"), person="P-03")
    yield lambda: screen.press("pass", **ALL)


@rule("INSPECT-FAILED", "flagged")
def fails(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    hull(plant, 1, "T430-02", "S2")
    yield lambda: screen.press("fail", remark="blow-hole at the seat")
    yield lambda: [screen.scan(SERIALS[1]), screen.press("pass", **ALL)][-1]


@rule("SCRAP-PLATE-STAYS")
def plate_stays(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inspecting(plant, at)
    yield lambda: screen.press("scrap", remark="cracked")
    yield lambda: screen.press("scrap", remark="cracked", plate_destroyed="yes")


@rule("SCRAP-BOUND")
def scrap_what_became_a_hull(plant: Plant, at: Opens) -> Iterator[Scan]:
    hull(plant)
    screen = at("inspect")
    screen.scan(moulding_of(plant))
    yield lambda: screen.press("scrap", remark="cracked")
    yield lambda: [screen.scan(SERIALS[0]), screen.press("scrap", remark="cracked", plate_destroyed="yes")][-1]


@rule("SCRAP-GONE")
def scrap_packed(plant: Plant, at: Opens) -> Iterator[Scan]:
    passed(plant)
    plant.shift.scan(Pack(order="SO-220", hulls=(SERIALS[0],)), person=WAREHOUSE)
    hull(plant, 1, "T430-02", "S2")
    screen = at("inspect")
    screen.scan(SERIALS[0])
    yield lambda: screen.press("scrap", remark="cracked", plate_destroyed="yes")
    yield lambda: [screen.open("inspect"), screen.scan(SERIALS[1]), screen.press("pass", **ALL)][-1]
