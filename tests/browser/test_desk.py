"""Every desk page at a telephone's and a desk's width: nothing axe objects to, nothing wider than the window."""

import os
from collections.abc import Iterator
from functools import partial
from typing import Any

import pytest
from playwright.sync_api import Page
from pytest_django import DjangoDbBlocker

from plant.credentials import set_password
from plant.models import Person
from tests import databases
from tests.browser.looked_at import objections
from tests.browser.told_for import PASSWORD
from tests.codes.test_recall_notice import GOOD
from tests.databases import Database
from tests.pages.story import Told, told
from trace.genealogy.causes import read_cause
from trace.genealogy.containment import walks
from trace.genealogy.drill import drills
from trace.genealogy.recall import recalls
from trace.genealogy.sharing import shared_by
from trace.models import Unit
from trace.pages.open_lists.table import OPEN_LISTS
from trace.pages.saved_scopes import as_saved
from trace.recording.acts.containment import BeginContainment
from trace.recording.acts.drills import BeginDrill
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.recalls import BeginRecall
from trace.recording.acts.scope_holds import HoldScope
from trace.recording.acts.vessels import ProveEmpty
from trace.recording.asking_scopes import spread

NOTICE: dict[str, Any] = {**GOOD, "discovered": "2026-06-01", "remedies": ("repair", "refund")}
# With LONG_TESTS (deploy/test --long) every list at both widths, else two of them on a telephone in the dark.
LONG = bool(os.environ.get("LONG_TESTS"))
# Both widths and both schemes; with LONG_TESTS each with each.
SCREENS = [(1280, "light"), (412, "dark"), *([(412, "light"), (1280, "dark")] if LONG else [])]


@pytest.fixture(scope="module")
def told_story(
    django_db_setup: None,
    shared_database: Database,
    templates: tuple[Database, Database],
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[tuple[Database, Told]]:
    """A database in which the story was told, and gone on with; it is cloned for each test."""
    with databases.cloned(templates[1]) as database:
        with databases.pointed_at(database, shared_database, django_db_blocker):
            history = told()
            scan = history.plant.scan
            scan(BeginContainment(hold=history.hold), person="P-06")
            scan(HoldScope(cause=("model=T430", "and", "not", "mould=B60-01"), reason="cracks"), person="P-06")
            spread(1, "P-06")
            scan(as_saved(shared_by(read_cause(["holds=N-0417"])), "cracks at the seat"), person="P-06")
            scan(BeginRecall(**NOTICE, hold=history.hold), person="P-06")
            scan(BeginDrill(lot="V-2288", hull=history.hulls["held"]), person="P-06")
            for key in ("P-06", "P-09"):
                set_password(Person.objects.get(key=key), PASSWORD)
        yield database, history


@pytest.fixture
def fresh_database(
    told_story: tuple[Database, Told], shared_database: Database, django_db_blocker: DjangoDbBlocker
) -> Iterator[Database]:
    with (
        databases.cloned(told_story[0]) as database,
        databases.pointed_at(database, shared_database, django_db_blocker),
    ):
        yield database


@pytest.fixture
def story(fresh_database: Database, told_story: tuple[Database, Told]) -> Told:
    return told_story[1]


def note(said: list[str], message: Any) -> None:
    """Keeps what a page's console says."""
    said.append(message.text)


def signed_on(chromium: object, site: str, width: int, scheme: str, who: str = "P-09") -> Page:
    context = chromium.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)  # type: ignore[attr-defined]
    page: Page = context.new_page()
    page.goto(f"{site}/sign-in/desk/")
    page.fill("[name=name]", who)
    page.fill("[name=password]", PASSWORD)
    page.click("button.main")
    return page


@pytest.mark.parametrize(("width", "scheme"), SCREENS)
def test_every_page_of_the_desk(story: Told, floor_server: str, chromium: object, width: int, scheme: str) -> None:
    pages: tuple[str, ...] = (
        "/", f"/hull/{story.hulls['no log']}/", f"/hull/{story.hulls['no foam']}/", f"/hull/{story.hulls['sled']}/",
        "/lot/N-0417/", "/lot/D-77/", f"/unit/{story.packs['sleds']}/", "/unit/T430-01/", "/unit/W-3/", "/unit/S1/",
        *(f"/unit/{Unit.objects.filter(kind=kind)[0].uid}/" for kind in ("charge", "load")), "/search/",
        "/search/?q=44?9", "/search/?model=T430&status=released", "/compare/",
        f"/compare/?a={story.hulls['bag change']}&b={story.hulls['no log']}", "/rules/?change=VENT-DUE",
        "/rules/", "/rules/?q=scale&now=warn", "/rules/?q=nothing+like+it",
        "/setup/mould/", "/setup/person/?key=P-01", "/setup/works_order/?new=1", "/setup/product/?key=T430",
        "/setup/sales_order/?key=SO-221", "/open/cycles/", "/search/?q=4419+teal",
        "/balance/V-2288/", "/balance/WO-1041/", "/balance/?first=2026-01-01",
        "/dispersion/", "/dispersion/V-2288/", f"/dispersion/{story.hulls['sled']}/", "/plan/",
        "/scope/", "/papers/", "/scope/?q=holds%3DN-0417&q=and&q=not&q=arm%3DS2&show=all", "/scope/?q=sheen%3Dred",
        "/common-cause/", f"/common-cause/?sold=no&bad={story.hulls['no log']}+{story.hulls['held']}",
    )  # fmt: skip
    of_quality: tuple[str, ...] = (
        f"/containment/?walk={walks()[0].uid}", f"/containment/?hold={story.hold}", f"/recall/?hold={story.hold}",
        f"/recall/?recall={recalls()[0].uid}&consignee=WHARFE", f"/drill/?drill={drills()[0].uid}", "/scope/holds/",
        "/impact/", "/owners/?q=44", f"/owners/?hull={story.hulls['held']}", f"/hold/{story.hold}/",
        "/plates/suspected/", "/open/scopes/", "/scope/saved/1/",
    )  # fmt: skip
    found = []
    for who, addresses in (("P-09", pages), ("P-06", of_quality)):
        page = signed_on(chromium, floor_server, width, scheme, who)
        said: list[str] = []
        page.on("console", partial(note, said))
        for address in addresses:
            answer = page.goto(f"{floor_server}{address}")
            assert answer is not None and answer.status == (400 if "sheen" in address else 200), address
            found += [(address, width, scheme, *said_of) for said_of in objections(page)]
        found += [
            (text, width, scheme, "refused by the content policy", "")
            for text in said
            if "Content Security Policy" in text
        ]
    assert found == []


def test_the_rules_are_seen_at_a_glance_and_each_is_one_press_away(
    story: Told, floor_server: str, chromium: object
) -> None:
    page = signed_on(chromium, floor_server, 1280, "light")
    page.goto(f"{floor_server}/rules/")
    assert page.evaluate("document.documentElement.scrollHeight") <= 3 * 800
    sentence = page.locator("#CHARGE-HEAVY", has_text="too much for the")
    assert not sentence.is_visible()
    page.locator("summary", has_text="Weigh, check weight").focus()
    page.keyboard.press("Enter")
    assert sentence.is_visible()
    page.emulate_media(media="print")
    assert page.locator("#PLATE-USED").is_visible(), "on paper every rule stands in full"


def refused(page: Page) -> None:
    """Sends the form of the page as it is, with nothing in its boxes."""
    page.locator(".desk-form button").last.click()
    page.wait_for_selector(".desk-form .faults")


def test_lists_and_the_first_page_empty_filled_refused_and_long(
    story: Told, floor_server: str, chromium: object
) -> None:
    lot_no = "V-2400" + "-WITH-A-LONG-NUMBER" * 3
    delivery = Receive(supplier="VERRIN", material="LL-35 red", lot_no=lot_no, amounts=("9",) * 12)
    story.plant.scan(delivery, person="P-05")
    for n in range(3):
        story.plant.clock.on(minutes=5)
        story.plant.scan(ProveEmpty(vessel=story.plant.boxes["foam"][4 + n]), person="P-05", mode="tells")
    story.plant.hold(story.hulls["sled"], reason="A reason that goes on and on " * 20)
    lists = [f"/open/{slug}/" for slug in (OPEN_LISTS if LONG else ("holds", "lots"))]
    forms = {
        "/open/holds/": ["lay", "end"], "/open/lots/": ["release"], "/open/questions/": ["close"],
        "/open/inspections/": ["inspect"],
    }  # fmt: skip
    found: list[tuple[object, ...]] = []
    for width, scheme in ((1280, "light"), (412, "dark")) if LONG else ((412, "dark"),):
        page = signed_on(chromium, floor_server, width, scheme, "P-06")
        for address in ("/", *lists, *(f"{one}?q=nothing+like+it" for one in lists if LONG)):
            page.goto(f"{floor_server}{address}")
            found += [(address, width, *said) for said in objections(page)]
        for address, acts in forms.items() if LONG else list(forms.items())[:2]:
            page.goto(f"{floor_server}{address}")
            ways = page.locator("a[href*='act=']")
            for act in acts:
                if act != "lay" and not ways.count():
                    continue
                if act != "lay":
                    page.goto(f"{floor_server}{ways.first.get_attribute('href')}")
                found += [(address, act, width, *said) for said in objections(page)]
                refused(page)
                found += [(address, act, "refused", width, *said) for said in objections(page)]
                page.goto(f"{floor_server}{address}")
    assert found == []


def test_a_question_is_closed_with_the_keyboard_alone(story: Told, floor_server: str, chromium: object) -> None:
    page = signed_on(chromium, floor_server, 1280, "light", "P-06")
    page.goto(f"{floor_server}/open/questions/")
    before = page.locator(".open-lines tbody tr").count()
    page.locator("a[href*='act=close']").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**act=close**")
    page.keyboard.press("Tab")
    while page.evaluate("document.activeElement.name") != "why":
        page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.type("Swept up")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector(".said")
    assert page.locator(".open-lines tbody tr").count() == before - 1 or before == 1
