"""Rules met where holds are laid and ended, records put right, and labels printed again."""

from collections.abc import Iterator
from datetime import timedelta

from django.utils import timezone

from tests.scan.browser import Page, Screen
from tests.scan.cast import QUALITY, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import ProveEmpty
from trace.recording.acts.weighing import CheckWeight


def holding(open_: Opens, code: str) -> Screen:
    screen = open_("hold")
    screen.scan(code)
    return screen


def lay(screen: Screen) -> Page:
    return screen.press("hold", why="damage", why_words="torn bag")


@rule("NOTHING-TO-HOLD")
def hold_nothing(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = holding(at, plant["boxes"][0])
    yield lambda: lay(screen)
    yield lambda: [screen.scan(plant["red"]), lay(screen)][-1]


@rule("REASON-MISSING")
def hold_without_reason(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = holding(at, plant["red"])
    yield lambda: screen.press("hold")
    yield lambda: lay(screen)


def held(plant: Plant, rule_: str = "quality", person: str = QUALITY) -> str:
    command = Hold(code=plant["red"], rule=rule_, reason="density query")
    return str(plant.shift.scan(command, person=person).made["holds"][0])


def ending(plant: Plant, open_: Opens, *people: str) -> Screen:
    screen = open_("release-hold", *people)
    screen.scan(plant["red"])
    return screen


def end(screen: Screen) -> Page:
    return screen.press("end", why="tested and found good", why_words="density 0.938")


@rule("REASON-MISSING")
def count_without_reason(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("count")
    screen.scan(plant["red"])
    yield lambda: screen.press("count", amount="490")
    yield lambda: screen.fill(amount="490", why="weighed", why_words="after the night shift")


@rule("HOLD-UNKNOWN")
def ended_meanwhile(plant: Plant, at: Opens) -> Iterator[Scan]:
    first = held(plant)
    screen = ending(plant, at)
    plant.shift.scan(ReleaseHold(hold=first, reason="tested"), person="P-10")
    yield lambda: end(screen)
    held(plant)
    yield lambda: [ending_again(screen, plant), end(screen)][-1]


def ending_again(screen: Screen, plant: Plant) -> Page:
    screen.open("release-hold")
    return screen.scan(plant["red"])


@rule("HOLD-NOT-CHOSEN")
def none_of_two_holds(plant: Plant, at: Opens) -> Iterator[Scan]:
    holds = [held(plant), held(plant, "question")]
    screen = ending(plant, at)
    yield lambda: screen.press("end", why="tested and found good", why_words="density 0.938")
    yield lambda: screen.fill(hold=holds[1], why="tested and found good")


@rule("HOLD-ELSEWHERE")
def freed_meanwhile(plant: Plant, at: Opens) -> Iterator[Scan]:
    """Another person has freed this container of the hold already; the hold itself goes on."""
    first = held(plant)
    screen = ending(plant, at)
    plant.shift.scan(ReleaseHold(hold=first, code=plant["red"], reason="tested"), person="P-10")
    yield lambda: screen.press("end", scope="this", why="tested and found good")
    held(plant)
    yield lambda: [ending_again(screen, plant), end(screen)][-1]


@rule("HOLD-OWN")
def own_safety_hold(plant: Plant, at: Opens) -> Iterator[Scan]:
    held(plant, "safety")
    screen = ending(plant, at, QUALITY)
    yield lambda: end(screen)
    other = at("release-hold", "P-10")
    other.scan(plant["red"])
    yield lambda: end(other)


@rule("HOLD-SAME-PERSON")
def own_hold(plant: Plant, at: Opens) -> Iterator[Scan]:
    held(plant, "quality")
    screen = ending(plant, at, QUALITY)
    yield lambda: end(screen)
    other = at("release-hold", "P-10")
    other.scan(plant["red"])
    yield lambda: end(other)


def correcting(plant: Plant, open_: Opens) -> Screen:
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    screen = open_("correct")
    screen.scan(plant["red"])
    return screen


def put_right(screen: Screen, code: str) -> Page:
    return screen.scan(code, why="wrong box scanned", why_words="the other octabin")


@rule("NOTHING-TO-CORRECT")
def same_again(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = correcting(plant, at)
    yield lambda: put_right(screen, plant["red"])
    yield lambda: put_right(screen, plant["red2"])


@rule("CORRECT-TO-EMPTY", "flagged")
def to_an_empty_one(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = correcting(plant, at)
    yield lambda: put_right(screen, plant["boxes"][0])
    screen.scan(plant["boxes"][0])
    yield lambda: put_right(screen, plant["red2"])


@rule("CORRECT-OTHER-UNIT")
def powder_from_a_box_of_inserts(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = correcting(plant, at)
    yield lambda: put_right(screen, plant["m8"])
    yield lambda: put_right(screen, plant["red2"])


@rule("CORRECT-OTHER-LAYER", "flagged")
def the_other_layers_drop_box(plant: Plant, at: Opens) -> Iterator[Scan]:
    shift = plant.shift
    shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    shift.weigh("WO-1041", "foam", plant["foam"], plant["drops"][0])
    shift.weigh("WO-1041", "foam", plant["foam"], plant["drops"][1])
    shift.scan(ReadyMould(mould="T430-01", order="WO-1041", arm="S1"))
    shift.scan(TipTub(mould="T430-01", tub=plant["tubs"][0]))
    screen = at("correct")
    screen.scan(plant["tubs"][0])
    yield lambda: put_right(screen, plant["drops"][0])
    # From now on the record is of the foam.
    screen.scan(plant["drops"][0])
    yield lambda: put_right(screen, plant["drops"][1])


@rule("CORRECT-OTHER-MATERIAL", "flagged")
def it_was_another_powder(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = correcting(plant, at)
    yield lambda: put_right(screen, plant["natural"])
    screen.scan(plant["natural"])
    yield lambda: put_right(screen, plant["red"])


@rule("CORRECT-NOT-RELEASED", "flagged")
def it_was_one_in_quarantine(plant: Plant, at: Opens) -> Iterator[Scan]:
    delivery = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2400", amounts=("100",))
    waiting = plant.shift.scan(delivery, person="P-05").made["codes"][0]
    screen = correcting(plant, at)
    yield lambda: put_right(screen, waiting)
    screen.scan(waiting)
    yield lambda: put_right(screen, plant["red2"])


@rule("CORRECT-SCALE-FAILED", "flagged")
def it_was_weighed_while_the_scale_was_wrong(plant: Plant, at: Opens) -> Iterator[Scan]:
    now = timezone.now().replace(second=0, microsecond=0)
    for minutes, shown in ((40, "10.100"), (20, "10.000")):
        check = CheckWeight(scale="W-3", shown=shown, again=shown)
        plant.shift.scan(check, mode="tells", happened=now - timedelta(minutes=minutes))
    screen = correcting(plant, at)

    def moved(minutes: int) -> Page:
        time = timezone.localtime(now - timedelta(minutes=minutes))
        drawn = next(c for c in screen.page.form.offered["event"] if c)  # type: ignore[union-attr]
        return screen.fill(event=drawn, at=f"{time:%Y-%m-%dT%H:%M}", why="wrong time", why_words="the sheet says so")

    yield lambda: moved(30)
    screen.scan(plant["red"])
    yield lambda: moved(10)


def reads(screen: Screen, shown: str) -> Page:
    """The only check-weight of the scale scanned, put right to another figure."""
    assert screen.page is not None
    [choice] = [c for c in screen.page.form.offered["event"] if c]
    return screen.fill(event=choice, amount=shown, why="wrong reading", why_words="the other line of the sheet")


@rule("NOTHING-READ")
def it_was_read_so(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("correct")
    screen.scan("W-3")
    yield lambda: reads(screen, "10.000")
    yield lambda: reads(screen, "10.010")


@rule("READING-OUTSIDE", "flagged")
def the_scale_was_off(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    screen = at("correct")
    screen.scan("W-3")
    yield lambda: reads(screen, "9.900")
    screen.scan("W-3")
    yield lambda: reads(screen, "10.010")


@rule("DISCREPANCY-UNKNOWN")
def no_such_discrepancy(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(ProveEmpty(vessel=plant["red2"]), person="P-05", mode="tells")
    screen = at("discrepancies")
    assert screen.page is not None
    [choice, *_] = [c for c in screen.page.form.offered["discrepancy"] if c]
    words = {"why": "counted", "why_words": "it was swept up"}
    yield lambda: screen.fill(discrepancy="0198c000-0000-7000-8000-000000000000:0", **words)
    yield lambda: screen.fill(discrepancy=choice, **words)
