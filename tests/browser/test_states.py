"""Every page of the desk empty, filled, refused and with long words: nothing axe objects to, nothing cut or too small.

The pages are those of trace/urls.py: one that has no row in STATES fails. Looked at with --long, since it is some two
hundred pages; that each page has its states is asked every time.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.urls import URLPattern
from playwright.sync_api import Page

from tests.browser.looked_at import objections
from tests.browser.test_desk import NOTICE, signed_on
from tests.browser.told_for import told_for
from tests.pages.story import Told
from trace.genealogy.causes import read_cause
from trace.genealogy.containment import walks
from trace.genealogy.drill import drills
from trace.genealogy.recall import recalls
from trace.genealogy.sharing import shared_by
from trace.models import Unit
from trace.pages.saved_scopes import as_saved
from trace.recording.acts.cases import Decide, HoldForCase, OpenCase, RecordTest, Suspect, TellConsignee
from trace.recording.acts.complaints import TakeComplaint
from trace.recording.acts.containment import BeginContainment
from trace.recording.acts.drills import BeginDrill
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.recalls import BeginRecall
from trace.recording.acts.scope_holds import HoldScope
from trace.recording.asking_scopes import spread
from trace.urls import pages

WORD = "Überseefrachtcontainerverladebrückenkranführerhausfenster"
LONG_NO = "V-2400" + "-WITH-A-LONG-NUMBER" * 3
LONG_WORDS = f"{WORD} " + "a reason that goes on and on " * 10
QUALITY, ADMINISTRATOR = "P-06", "P-09"
LEAST = 24  # px: WCAG 2.2, 2.5.8
SCREENS = ((1280, "light"), (412, "light"))


@dataclass(frozen=True)
class States:
    """Addresses of one page. `refused`: one, and the button that sends what is refused there ("" for what the address
    itself asks in vain). `why`: of the states that it has not."""

    filled: str
    empty: str = ""
    refused: tuple[str, str] | None = None
    long: str = ""
    why: str = ""
    who: str = QUALITY


NO_FORM = "nothing is sent on it"
ALWAYS = "it is never empty: {0}"
STATES: dict[str, States] = {
    "hull": States("/hull/{no_log}/", "/hull/{no_foam}/", ("/hull/nobody/", ""), "/hull/{sled}/"),
    "lot": States("/lot/N-0417/", "/lot/N-0620/", ("/lot/nobody/", ""), "/lot/{long_lot}/"),
    "balance_of_days": States(
        "/balance/?first=2026-01-01", "/balance/?first=2020-01-01&last=2020-01-02", ("/balance/?first=soon", ""),
        "/balance/?first=2020-01-01&last=2030-01-01",
    ),
    "balance": States("/balance/V-2288/", "/balance/N-0620/", ("/balance/nobody/", ""), "/balance/{long_lot}/"),
    "dispersion": States(
        "/dispersion/", "/dispersion/?first=2020-01-01&last=2020-01-02", ("/dispersion/?first=soon", ""),
        "/dispersion/?first=2020-01-01&last=2030-01-01",
    ),
    "dispersion_of": States(
        "/dispersion/V-2288/", "/dispersion/N-0620/", ("/dispersion/nobody/", ""), "/dispersion/{long_lot}/"
    ),
    "plan": States(
        "/plan/?do=top-up&source={inner_box}&into={silo}&kg=60", "/plan/", ("/plan/?do=top-up&source=x", ""),
        f"/plan/?do=top-up&source={WORD}{WORD}&into={WORD}&kg={'9' * 40}",
    ),
    "rules": States(
        "/rules/", "/rules/?q=nothing+like+it", ("/rules/?change=VENT-DUE", "main form[method=post] button"),
        f"/rules/?q={WORD}", who=ADMINISTRATOR,
    ),
    "records": States("/records/", why=f"{NO_FORM}; it is never empty: one chain", who=ADMINISTRATOR),
    "take_complaint": States(
        "/complaint/take/?q=44&model=T430", "/complaint/take/", ("/complaint/take/?q=nothing", ""),
        f"/complaint/take/?q={WORD}&hull={{no_log}}",
    ),
    "complaint": States(
        "/complaint/1/", "/complaint/2/", ("/complaint/2/", "[value=close]"), "/complaint/3/",
    ),
    "complaint_photo": States("", why="a picture, no page"),
    "cases": States("/cases/", "/cases/?kind=delamination", ("/cases/", "main form button"), "/cases/"),
    "case": States("/case/1/", "/case/2/", ("/case/1/", "[value=suspect]"), "/case/3/"),
    "setup": States(
        "/setup/mould/", "/setup/works_order/?new=1", ("/setup/works_order/?new=1", "main form[method=post] button"),
        "/setup/product/?key=T430", who=ADMINISTRATOR,
    ),
    "open_list": States(
        "/open/holds/", "/open/holds/?q=nothing+like+it", ("/open/holds/", ".desk-form button"), "/open/complaints/"
    ),
    "search": States("/search/?q=44?9", "/search/", ("/search/?q=nothing", ""), f"/search/?q={WORD}"),
    "papers": States("/papers/", why=f"{NO_FORM}; a paper is asked for on another page"),
    "paper": States("", why="one paper is a line of the list, looked at there (tests/exports asks for each)"),
    "compare": States(
        "/compare/?a={bag_change}&b={no_log}", "/compare/", ("/compare/?a=nothing&b=nobody", ""),
        f"/compare/?a={WORD}&b={WORD}",
    ),
    "scope": States(
        "/scope/?q=holds%3DN-0417&q=or&q=arm%3DS1&show=all", "/scope/", ("/scope/?q=sheen%3Dred", ""),
        f"/scope/?q=holds%3D{LONG_NO}&q=and&q=not&q=arm%3DS1",
    ),
    "scope_holds": States(
        "/scope/holds/", why="empty before the first is laid: looked at then", refused=("/scope/holds/", "[value=end]"),
        long="/scope/holds/",
    ),
    "saved_scope": States(
        "/scope/saved/1/", "/scope/saved/2/", ("/scope/saved/1/", "main form[method=post] button"), "/scope/saved/3/"
    ),
    "hold_known": States(
        "/hold/{hold}/", refused=("/hold/nobody/", ""), long="/hold/{long_hold}/", why="it is never empty: one hold"
    ),
    "load_paper": States("/load/{load}/", refused=("/load/nobody/", ""), why="it is never empty: a load has left"),
    "common_cause": States(
        "/common-cause/?sold=no&bad={no_log}+{held}", "/common-cause/",
        ("/common-cause/?bad=nothing", ""), "/common-cause/?sold=no&bad={no_log}+{held}+{bag_change}+{no_foam}",
    ),
    "owners": States(
        "/owners/?hull={gone}", "/owners/", ("/owners/?hull={gone}", "main form[method=post] button"),
        f"/owners/?q={WORD}",
    ),
    "impact": States(
        "", "/impact/", ("/impact/?unit=nobody", ""), why="filled by a laboratory, which this story has none of"
    ),
    "suspected_swaps": States(
        "", "/plates/suspected/", why=f"filled by a colour seen at inspection, which this story says none of; {NO_FORM}"
    ),
    "containment": States(
        "/containment/?walk={walk}", "/containment/", ("/containment/?hold=nobody", ""),
        "/containment/?hold={long_hold}",
    ),
    "recall": States(
        "/recall/?recall={recall}&consignee=WHARFE", "/recall/", ("/recall/?hold={hold}", "main form.thing button"),
        "/recall/?hold={long_hold}",
    ),
    "drill": States("/drill/?drill={drill}", "/drill/", ("/drill/", "main form button"), "/drill/?drill={drill}"),
    "unit": States("/unit/W-3/", "/unit/LG-4/", ("/unit/nobody/", ""), "/unit/{long_load}/"),
}  # fmt: skip
# Looked at in the dark too: what is drawn or tinted, holds, and what is refused; then home, things of every kind, and
# stations that a desk may open.
IN_THE_DARK = ("hull", "lot", "scope", "case", "common_cause", "open_list", "scope_holds", "hold_known", "unit")
DRAWN_IN_THE_DARK = (
    "/", "/unit/T430-01/", "/unit/S1/", "/unit/OVEN-2/", "/unit/W-3/", "/unit/G-2/", "/unit/R4-2/", "/unit/WO-1041/",
    "/unit/P-01/", "/unit/{sleds}/", "/unit/{charge}/", "/containment/?walk={walk}", "/scan/inspect/", "/scan/hold/",
    "/scan/containment/?walk={walk}",
)  # fmt: skip
BEFORE_ANYTHING = ("/cases/", "/scope/holds/", "/containment/", "/recall/", "/drill/", "/open/complaints/", "/papers/")


def test_every_page_of_the_desk_has_its_states() -> None:
    assert set(STATES) == {one.name for one in pages if isinstance(one, URLPattern)}
    for name, states in STATES.items():
        every = (states.empty, states.filled, states.refused, states.long)
        assert all(every) or states.why, name


@pytest.fixture
def story(fresh_database: object) -> Iterator[Told]:
    with told_for(QUALITY, ADMINISTRATOR) as history:
        yield history


def happened(story: Told) -> dict[str, str]:
    """What the addresses name, once complaints, cases, walks, recalls and long words are told."""
    scan, hulls = story.plant.scan, {name.replace(" ", "_"): plate for name, plate in story.hulls.items()}
    scan(Receive(supplier="VERRIN", material="LL-35 red", lot_no=LONG_NO, amounts=("9",) * 12), person="P-05")
    long_hold = story.plant.hold(hulls["sled"], reason=LONG_WORDS)
    scan(BeginContainment(hold=story.hold), person=QUALITY)
    scan(BeginRecall(**NOTICE, hold=story.hold), person=QUALITY)
    scan(BeginDrill(lot="V-2288", hull=hulls["held"]), person=QUALITY)
    scan(HoldScope(cause=("model=T430", "and", "not", "mould=B60-01"), reason=LONG_WORDS), person=QUALITY)
    spread(1, QUALITY)
    asked = {"holds=N-0417": "cracks", "made=2020-01-01..2020-01-02": "nothing yet", "model=T430": WORD * 2}
    for words, name in asked.items():
        scan(as_saved(shared_by(read_cause([words])), name), person=QUALITY)
    for plate, said in ((hulls["no_log"], "It cracked."), ("", ""), (hulls["gone"], LONG_WORDS)):
        taken = TakeComplaint(
            hull=plate, symptom="crack at insert", spot="S3" if plate else "", plate=f"44?9 {WORD[:20]}", story=said,
            buyer=said and WORD, through="WHARFE" if plate else "",
        )  # fmt: skip
        scan(taken, person=QUALITY)
    for name, inside in (("cracks", (1,)), ("nothing yet", ()), (f"{WORD} {WORD[:20]}", (3,))):
        scan(OpenCase(name=name, complaints=inside), person=QUALITY)
    for number, words in ((1, "its thread"), (3, LONG_WORDS[:300])):
        scan(Suspect(case=number, cause=("holds=N-0417",), reason=words), person=QUALITY)
        scan(RecordTest(case=number, what=words, result=words, by_whom=words[:200]), person=QUALITY)
        scan(Decide(case=number, reason=words), person=QUALITY)
        scan(TellConsignee(case=number, consignee="WHARFE", day="2026-05-02", answer=words), person=QUALITY)
    scan(HoldForCase(case=3, hold=long_hold), person=QUALITY)
    return {
        **hulls, "hold": story.hold, "long_hold": long_hold, "long_lot": LONG_NO, "walk": walks()[0].uid,
        "recall": recalls()[0].uid, "drill": drills()[0].uid, "silo": story.plant.silo,
        "inner_box": story.plant.boxes["inner"][0], "load": str(Unit.objects.filter(kind="consignment")[0].uid),
        "sleds": story.packs["sleds"], "charge": str(Unit.objects.filter(kind="charge")[0].uid),
        "long_load": str(Unit.objects.filter(kind="load")[0].uid),
    }  # fmt: skip


CUT_OR_SMALL = """least => {
  // The head of a table that is stacked on a telephone is there for readers alone.
  const seen = e => e.offsetParent && !e.closest(".unseen, svg, thead, [aria-hidden=true]");
  const said = e => e.outerHTML.slice(0, 110);
  const main = [...document.querySelectorAll("main *")].filter(seen);
  const cut = main.filter(e => e.scrollWidth > e.clientWidth + 1 && e.clientWidth
    && ["hidden", "clip"].includes(getComputedStyle(e).overflowX) && !e.matches("input, select, textarea"));
  const small = main.filter(e => e.matches("button, .button, .quiet, select, summary, input:not([type=hidden])"))
    .filter(e => { const r = e.getBoundingClientRect(), l = e.closest("label")?.getBoundingClientRect();
      return Math.max(r.height, l?.height ?? 0) < least - 0.5 || Math.max(r.width, l?.width ?? 0) < least - 0.5; });
  return [...cut.map(e => ["cut", said(e)]), ...small.map(e => ["smaller than 24 px", said(e)])];
}"""


def looked_at(page: Page) -> list[tuple[str, ...]]:
    """What is said against the page that stands there: axe, its width, what is cut, what is too small to press."""
    found: list[tuple[str, ...]] = [*objections(page)]
    found += [tuple(said) for said in page.evaluate(CUT_OR_SMALL, LEAST)]
    return found


def refuse(page: Page, button: str) -> None:
    """Sends the form of this button with nothing typed into it, past what the browser itself would hold back."""
    page.evaluate("() => document.querySelectorAll('form').forEach(form => { form.noValidate = true })")
    page.evaluate("() => document.querySelectorAll('details').forEach(one => { one.open = true })")
    with page.expect_navigation():
        page.locator(button).last.click()


def look(page: Page, site: str, place: tuple[str, str], address: str, button: str = "") -> list[tuple[object, ...]]:
    """What is said against a page in one of its states; `place`: (page, state). `button` sends what is refused."""
    found: list[tuple[object, ...]] = []
    answer = page.goto(f"{site}{address}")
    assert answer is not None
    if answer.status != 200 and place[1] not in ("refused", "long"):
        found.append((*place, address, answer.status))
    if button and not page.locator(button).count():
        found.append((*place, address, "has no button to send what is refused"))
    elif button:
        refuse(page, button)
    return [*found, *((*place, address, *said) for said in looked_at(page))]


def look_at_states(page: Page, site: str, name: str, names: dict[str, str]) -> list[tuple[object, ...]]:
    """Every state of one page of STATES."""
    states, found = STATES[name], []
    for state in ("empty", "filled", "long"):
        if address := getattr(states, state):
            found += look(page, site, (name, state), address.format(**names))
    if states.refused:
        found += look(page, site, (name, "refused"), states.refused[0].format(**names), states.refused[1])
    return found


@pytest.mark.skipif("LONG_TESTS" not in os.environ, reason="looked at with --long: some two hundred pages")
def test_every_state_of_every_page(story: Told, floor_server: str, chromium: Any) -> None:
    found: list[tuple[object, ...]] = []
    for screen in SCREENS:
        page = signed_on(chromium, floor_server, *screen, QUALITY)
        for address in BEFORE_ANYTHING:
            found += look(page, floor_server, ("before anything", "empty"), address)
    names = happened(story)
    for screen in SCREENS:
        signed = {who: signed_on(chromium, floor_server, *screen, who) for who in (QUALITY, ADMINISTRATOR)}
        for name, states in STATES.items():
            found += ((*screen, *said) for said in look_at_states(signed[states.who], floor_server, name, names))
    assert found == []


@pytest.mark.skipif("LONG_TESTS" not in os.environ, reason="looked at with --long: some hundred pages")
def test_the_pages_that_differ_most_in_the_dark(story: Told, floor_server: str, chromium: Any) -> None:
    """What is drawn, tinted, held or refused has other colours there: those pages in their states, every kind of unit
    and three stations."""
    names, found = happened(story), list[tuple[object, ...]]()
    for width in (1280, 412):
        page = signed_on(chromium, floor_server, width, "dark", QUALITY)
        for name in IN_THE_DARK:
            found += ((width, *said) for said in look_at_states(page, floor_server, name, names))
        for address in DRAWN_IN_THE_DARK:
            found += ((width, *said) for said in look(page, floor_server, ("dark", ""), address.format(**names)))
    assert found == []
