"""The live camera: what counts of what it sees, films of labels, a station page, and a phone without a camera."""

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Page, sync_playwright

from deploy import reader
from tests.browser.looked_at import objections, started_chromium
from tests.scan.cast import OPERATOR, PIN, Plant
from trace.codes import issue_label_code
from trace.labels.symbol import matrix
from trace.measure import camera, films
from trace.measure.films import Shot

SQUARE = [[0, 0], [10, 0], [10, 10], [0, 10]]


@pytest.fixture
def plays() -> Iterator[Callable[..., Any]]:
    """plays(film) -> a page of the camera's stage in a browser whose camera is that film."""
    with sync_playwright() as playwright, camera.stage() as address:
        opened: list[Any] = []

        def play(film: Path | None, *, init: str = "", flags: tuple[str, ...] = ()) -> Page:
            more = [f"--use-file-for-fake-video-capture={film}"] if film else []
            browser = playwright.chromium.launch(
                executable_path=camera.chromium(), headless=True, args=[*camera.FLAGS, *more, *flags]
            )
            opened.append(browser)
            page: Page = browser.new_page(viewport={"width": 412, "height": 740}, has_touch=True, is_mobile=True)
            page.add_init_script(camera.WATCH + init)
            page.goto(address)
            return page

        yield play
        for browser in opened:
            browser.close()


def until(page: Page, said: str, seconds: float = 60) -> Any:
    """What an expression gives once it is true: asked again and again, since the policy forbids waiting by eval."""
    end = time.monotonic() + seconds
    while not (value := page.evaluate(said)) and time.monotonic() < end:
        time.sleep(0.05)
    return value


Steps = list[tuple[int, list[tuple[str, int, int]]]]


def looks(page: Page, steps: Steps, *, linear: bool = False) -> list[str]:
    """What counts of pictures at given times, (ms, [(text, left, top)]): symbols of 10 x 10, frame of 100 x 100."""
    pictures = [
        [at, [{"text": t, "linear": linear, "corners": [[x + a, y + b] for a, b in SQUARE]} for t, x, y in codes]]
        for at, codes in steps
    ]
    counted: list[str] = page.evaluate(
        """async steps => { const { newSight } = await import("/static/trace/camera-sight.js"), look = newSight();
             const frame = { left: 0, top: 0, width: 100, height: 100 };
             return steps.map(([at, codes]) => look(codes, frame, at).read?.text ?? "").filter(Boolean) }""",
        pictures,
    )
    return counted


def every(ms: int, since: int, until_: int, *codes: tuple[str, int, int]) -> Steps:
    return [(at, list(codes)) for at in range(since, until_, ms)]


IN, BESIDE, OUT = ("A", 45, 45), ("B", 20, 20), ("B", 200, 45)


def test_what_counts_of_what_is_seen(plays: Callable[..., Page]) -> None:
    page = plays(None)
    assert looks(page, every(40, 0, 5000, IN)) == ["A"], "the same label once, as long as it is in view"
    shown, again = every(40, 0, 200, IN), every(40, 1300, 1500, IN)
    assert looks(page, [*shown, *every(40, 200, 700), *every(40, 700, 900, IN)]) == ["A"], "a hand that shook"
    assert looks(page, [*shown, *again]) == ["A"], "no picture was taken meanwhile: nobody saw it leave"
    assert looks(page, [*shown, *every(40, 200, 1300), *again]) == ["A", "A"], "taken away and shown again"
    away = [*shown, *every(40, 240, 600, ("C", 45, 45)), *every(40, 600, 800, IN)]
    assert looks(page, away) == ["A", "C", "A"], "another in between"


def test_two_labels_in_view_the_one_in_the_frame(plays: Callable[..., Page]) -> None:
    page = plays(None)
    assert looks(page, every(40, 0, 3000, IN, OUT)) == ["A"]
    assert looks(page, every(40, 0, 3000, ("A", 45, 45), BESIDE)) == ["A"], "both in it: the one that covers the middle"
    assert looks(page, every(40, 0, 3000, ("A", 70, 70), BESIDE)) == [], "neither covers the middle: none is guessed"
    assert looks(page, every(40, 0, 3000, OUT, ("C", 300, 45))) == [], "two beside the frame"
    assert looks(page, every(40, 0, 400, OUT)) == [], "beside the frame for a moment: the other may not be read yet"
    assert looks(page, every(40, 0, 600, OUT)) == ["B"], "alone in the picture for half a second"
    swept = [*every(40, 0, 200, IN), *every(40, 200, 440, ("A", 20, 45), ("B", 45, 45))]
    assert looks(page, swept) == ["A"], "a neighbour swept over while the hand moves on is not meant"
    assert looks(page, [*swept, *every(40, 440, 900, ("A", 20, 45), ("B", 45, 45))]) == ["A", "B"], "held there it is"
    assert looks(page, every(40, 0, 400, ("A", 10, 45), ("A", 45, 45))) == ["A"], "one label with its symbol twice"


def test_a_linear_code_counts_when_two_pictures_say_the_same(plays: Callable[..., Page]) -> None:
    page = plays(None)
    assert looks(page, [(0, [IN])], linear=True) == []
    assert looks(page, [(0, [IN]), (40, [])], linear=True) == []
    assert looks(page, [(0, [IN]), (40, []), (80, [IN])], linear=True) == ["A"]


def test_films_of_labels_are_read_and_none_wrong() -> None:
    """Every tilt and trouble once, QR and Code 128, each shown as a phone shows it. How soon is a measurement
    (manage.py measure camera), not a test."""
    shots = camera.some_shots(16, seed=3)
    told = camera.shown(list(films.pictures_of(shots, seed=3)))
    wanted = [shot.text for shot in shots]
    assert [text for text in told if text not in wanted] == []
    assert len(told) == len(set(told)), "none counts twice while it is held there"
    assert [shot for shot in shots if shot.text not in told] == []


@pytest.mark.parametrize("text", [issue_label_code(5), f"HTTPS://LOT.LAN/S/{issue_label_code(5)}"])
def test_the_stain_of_the_films_is_a_quarter_of_the_codewords(text: str) -> None:
    """Checked with a reader written by others: what it corrects at level Q is exactly that much, and no more.

    ISO/IEC 18004 (from memory): 6 of 26 codewords for version 1-Q, 11 of 44 for version 2-Q.
    """
    rng = np.random.default_rng(11)
    whole = matrix(text)
    places = films.codeword_places(len(whole))
    for _ in range(20):
        stained = films.destroyed(whole, rng)
        hit = {n // 8 for n, (x, y) in enumerate(places) if whole[y][x] != stained[y][x]}
        assert len(hit) == len(places) // 8 // 4
        assert [one.text for one in zxingcpp.read_barcodes(drawn(stained))] == [text]
        free = next(n for n in range(len(places) // 8) if n not in hit)
        worse = [list(row) for row in stained]
        for x, y in places[8 * free : 8 * free + 8]:
            worse[y][x] = not worse[y][x]
        assert zxingcpp.read_barcodes(drawn(worse)) == []


def drawn(modules: Any) -> Image.Image:
    side = len(modules) + 8
    small = Image.new("L", (side, side), 255)
    for y, row in enumerate(modules):
        for x, dark in enumerate(row):
            if dark:
                small.putpixel((x + 4, y + 4), 0)
    return small.resize((4 * side, 4 * side), Image.Resampling.NEAREST)


def refused(name: str) -> str:
    return f"""window.asked = 0; navigator.mediaDevices.getUserMedia = async () => {{
      window.asked++; throw new DOMException("", "{name}") }};"""


@pytest.mark.parametrize(("name", "why"), [("NotAllowedError", "refused"), ("NotFoundError", "none")])
def test_a_camera_that_is_not_to_be_had_is_not_asked_for_twice(plays: Callable[..., Page], name: str, why: str) -> None:
    page = plays(None, init=refused(name))
    page.click("[data-camera-open]")
    page.wait_for_selector(f"[data-camera-why={why}]")
    assert objections(page) == []
    assert page.is_visible("[data-photo]") and not page.is_visible("[data-camera-open]")
    page.click("[data-camera-back]")
    page.reload()
    page.wait_for_selector("[data-photo]")
    assert not page.is_visible("[data-camera-open]")
    assert page.evaluate("window.asked") == 0, "not even after the page was drawn anew"
    page.evaluate("document.querySelector('#camera').dataset.signOn = 'another'")
    page.evaluate("document.body.append('')")
    page.wait_for_selector("[data-camera-open]")


def test_without_https_there_is_the_photo_and_nothing_is_asked(plays: Callable[..., Page]) -> None:
    page = plays(None, init="Object.defineProperty(navigator, 'mediaDevices', { value: undefined });")
    page.wait_for_selector("[data-photo]")
    assert not page.is_visible("[data-camera-open]")


def test_a_reader_that_does_not_start_leaves_photo_and_typing(plays: Callable[..., Page]) -> None:
    page = plays(None)
    page.route("**/zxing_reader.wasm", lambda route: route.abort())
    page.reload()
    page.wait_for_selector("[data-photo]")
    assert not page.is_visible("[data-camera-open]")


def test_the_torch_is_there_where_the_camera_has_one(plays: Callable[..., Page]) -> None:
    torch = """window.lit = [];
      MediaStreamTrack.prototype.getCapabilities = () => ({ torch: true });
      MediaStreamTrack.prototype.applyConstraints = async c => { window.lit.push(c.advanced[0].torch) };"""
    page = plays(None, init=torch)
    page.click("[data-camera-open]")
    page.click("[data-camera-torch]")
    page.click("[data-camera-torch]")
    assert page.evaluate("window.lit") == [True, False]
    page.click("[data-camera-close]")
    assert page.evaluate("document.querySelector('[data-camera]').hidden")


def test_the_reader_is_the_one_that_was_listed() -> None:
    assert reader.damaged() == []
    served = list(reader.FOLDER.rglob("*.js"))
    assert served and not [path for path in served if "://" in path.read_text(encoding="utf-8")], "asks nobody else"
    assert sum(path.stat().st_size for path in reader.FOLDER.rglob("*") if path.is_file()) < 2_000_000


@contextmanager
def signed_on(chromium: Any, site: str, plant: Plant) -> Iterator[Page]:
    context = chromium.new_context(viewport={"width": 412, "height": 740}, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.add_init_script("window.told = []; document.addEventListener('scanned', e => window.told.push(e.detail.text))")
    page.goto(f"{site}/sign-in/")
    page.fill("[name=badge]", plant[OPERATOR])
    page.keyboard.press("Enter")
    page.fill("[name=pin]", PIN)
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: "/sign-in/" not in url)
    yield page
    context.close()


def test_what_the_camera_reads_at_a_station_is_a_scan(
    plant: Plant, floor_server: str, tmp_path: Path
) -> None:
    """Under the page's real policy: the mould is read, the page answers, the camera stays open in the new page."""
    film = tmp_path / "mould.mjpeg"
    films.write_film(film, [Shot(plant["T430-01"])], seed=2, pictures=3)
    flags = [*camera.FLAGS[-2:], f"--use-file-for-fake-video-capture={film}"]
    with started_chromium(flags) as chromium, signed_on(chromium, floor_server, plant) as page:
        against: list[str] = []
        page.on("console", lambda message: against.append(message.text) if "Security" in message.text else None)
        page.goto(f"{floor_server}/scan/load/")
        before = page.input_value("[name=scan_id]")
        page.click("[data-camera-open]")
        assert until(page, f"document.querySelector('[name=scan_id]')?.value !== {json.dumps(before)}")
        assert page.evaluate("window.told") == [plant["T430-01"]]
        assert page.is_visible("[data-camera] video"), "an answer draws the page anew around the picture"
        assert not page.locator(".drawing").filter(visible=True).count(), "it stands in the place of the drawing"
        assert until(page, "!document.querySelector('[data-camera] video').paused")
        assert objections(page) == []
        assert against == []
        page.click("[data-camera-close]")
        assert not page.is_visible("[data-camera]")


def test_what_the_camera_reads_at_home_opens_its_station(plant: Plant, floor_server: str, tmp_path: Path) -> None:
    film = tmp_path / "mould.mjpeg"
    films.write_film(film, [Shot(plant["T430-01"])], seed=2, pictures=3)
    flags = [*camera.FLAGS[-2:], f"--use-file-for-fake-video-capture={film}"]
    with started_chromium(flags) as chromium, signed_on(chromium, floor_server, plant) as page:
        page.goto(f"{floor_server}/")
        assert page.is_visible("#code"), "under the thumb, however long the page is"
        assert objections(page) == []
        page.click("[data-camera-open]")
        page.wait_for_url(lambda url: "/scan/" in url)
        assert plant["T430-01"] in page.url or page.locator(".way").count()
