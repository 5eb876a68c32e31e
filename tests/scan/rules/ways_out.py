"""Rules met where something leaves the containers for good."""

from collections.abc import Iterator

from tests.scan.browser import Screen
from tests.scan.cast import LEAD, QUALITY, STORES, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from tests.scan.rules.desk import held
from trace.recording.acts.opening import OpeningStock
from trace.recording.acts.sampling import TakeSample


def scrapping(open_: Opens, code: str) -> Screen:
    screen = open_("scrap")
    screen.scan(code)
    return screen


@rule("OUT-NOTHING-LEFT")
def all_of_nothing(plant: Plant, at: Opens) -> Iterator[Scan]:
    scrapping(at, plant["red2"]).press("all", why="old", why_words="")
    screen = scrapping(at, plant["red2"])
    yield lambda: screen.press("all", why="old", why_words="")
    yield lambda: [screen.scan(plant["red"]), screen.press("all", why="old", why_words="")][-1]


@rule("SCRAP-CAUSE")
def no_reason_of_ones_own(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = scrapping(at, plant["red"])
    yield lambda: screen.fill(amount="2.5", why="other", why_words="")
    yield lambda: screen.fill(amount="2.5", why="other", why_words="a screw fell in")


@rule("SCRAP-HELD")
def on_hold(plant: Plant, at: Opens) -> Iterator[Scan]:
    held(plant)
    screen = at("scrap")
    yield lambda: screen.scan(plant["red"])
    yield lambda: [screen.scan(plant["red2"]), screen.fill(amount="2.5", why="spilt", why_words="")][-1]


def giving_back(open_: Opens, code: str) -> Screen:
    screen = open_("give-back")
    screen.scan(code)
    return screen


@rule("GIVEN-BACK")
def given_back(plant: Plant, at: Opens) -> Iterator[Scan]:
    giving_back(at, plant["red2"]).press("all", note_no="RN-1")
    screen = at("count")
    yield lambda: [screen.scan(plant["red2"]), screen.fill(amount="5", why="weighed", why_words="seen")][-1]
    screen.open("count")
    yield lambda: [screen.scan(plant["red"]), screen.fill(amount="499", why="weighed", why_words="seen")][-1]


@rule("GIVE-BACK-NO-NOTE")
def without_a_note(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = giving_back(at, plant["red"])
    yield lambda: screen.fill(amount="20", note_no="-")
    yield lambda: screen.fill(amount="20", note_no="RN-1")


def of_nobody(plant: Plant) -> str:
    command = OpeningStock(material="LL-35 red", amount="40")
    return str(plant.shift.scan(command, person=STORES, helper=LEAD).made["codes"][0])


@rule("GIVE-BACK-DOUBT", "warned")
def in_doubt(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = giving_back(at, of_nobody(plant))
    yield lambda: screen.fill(amount="20", note_no="RN-1", supplier="VERRIN")
    yield lambda: [screen.scan(plant["red"]), screen.fill(amount="20", note_no="RN-1")][-1]


def sample(plant: Plant) -> str:
    command = TakeSample(box=plant["red"], amount="0.5")
    return str(plant.shift.scan(command, person=QUALITY).made["codes"][0])


def sampling(open_: Opens, code: str) -> Screen:
    screen = open_("sample")
    screen.scan(code)
    return screen


@rule("SAMPLE-GONE")
def used_before(plant: Plant, at: Opens) -> Iterator[Scan]:
    one, other = sample(plant), sample(plant)
    sampling(at, one).press("used", known="melt flow")
    screen = sampling(at, one)
    yield lambda: screen.press("used", known="melt flow")
    yield lambda: [screen.scan(other), screen.press("used", known="melt flow")][-1]


@rule("SAMPLE-EARLY")
def before_its_day(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = sampling(at, sample(plant))
    yield lambda: screen.press("discarded")
    yield lambda: screen.press("used", known="melt flow")


@rule("SWEPT-BACK")
def tipped_back_into_the_box(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("scrap")
    screen.scan(plant["R4-2"])
    yield lambda: screen.scan(plant["red"])
    yield lambda: screen.fill(amount="3.2")
