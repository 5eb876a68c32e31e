"""Times the live camera in a headless Chromium that is shown films of labels: how soon, how many, and none wrong.

Needs Chromium and the Python package playwright, which no other part of the product needs.
"""

from __future__ import annotations

import importlib
import mimetypes
import shutil
import statistics
import tempfile
import threading
import time
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import product
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.template.loader import render_to_string
from django.utils.crypto import get_random_string

from plant.middleware import CAMERA_WORKER, CAMERA_WORKER_POLICY, CONTENT_SECURITY_POLICY
from trace.codes import issue_label_code
from trace.measure import films
from trace.measure.films import Shot

HELP = "the live camera on films of labels, in Chromium"
FIRST_MS, EACH_MS, LEAST_READ = 300, 80, 0.95
SECONDS, PACE_MS = 1.4, 50  # that a label is held before the camera, and from one picture to the next
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
]  # fmt: skip
STATIC = Path(__file__).resolve().parent.parent / "static"
# Stands between the page and its worker: when each picture went there, what came back and when, what the page was told.
WATCH = """
window.pictures = []; window.told = []; window.pressed = 0;
const post = Worker.prototype.postMessage;
Worker.prototype.postMessage = function (...all) {
  if (!this.watched) {
    this.watched = true;
    this.addEventListener("message", ({data}) => {
      if (data.codes) window.pictures.at(-1).back = performance.now();
    });
  }
  window.pictures.push({sent: performance.now()});
  return post.apply(this, all);
};
document.addEventListener("scanned", e => window.told.push([e.detail.text, performance.now()]));
document.addEventListener("click", e => {
  if (e.target.closest("[data-camera-open]")) window.pressed = performance.now();
}, true);
"""
# Shows the worker one picture after the other, and what comes back to the part that says which code counts.
SHOW = """
async ([counts, each, long]) => {
  const { newSight } = await import("/static/trace/camera-sight.js");
  const worker = new Worker("/static/trace/camera-worker.js", { type: "module" }), look = newSight(), told = [];
  const answer = () => new Promise((done, no) => {
    worker.onmessage = ({data}) => data.failed ? no(Error(data.failed)) : data.ready ? 0 : done(data.codes); });
  let at = 0, first = 0;
  for (const count of counts) {
    const got = (_, n) => fetch(`/picture/${first + n}`).then(answer => answer.blob());
    const blobs = await Promise.all(Array.from({ length: count }, got));
    first += count;
    for (let since = 0; since < long; since += each) {
      const back = answer(), blob = blobs[Math.floor(count * since / long)];
      const picture = await createImageBitmap(blob, 190, 0, 900, 720);
      worker.postMessage({ picture }, [picture]);
      const seen = look(await back, { left: 157, top: 144, width: 585, height: 432 }, at += each);
      if (seen.read) told.push(seen.read.text);
    }
    at += 1000;
  }
  worker.terminate();
  return told;
}
"""
PAGE = """<!doctype html><html lang="en"><title>Camera</title><meta name="viewport" content="width=device-width">
<link rel="stylesheet" href="/static/trace/sheet.css"><link rel="stylesheet" href="/static/trace/camera.css">
<script type="module" src="/static/trace/camera.js"></script><body class="floor">
<main class="station"><h1>Camera</h1><div data-camera hidden></div>
<button type="button" data-camera-open hidden>Camera</button>
<label data-photo>Photo<input type="file"></label></main>{camera}</body></html>"""


@dataclass(frozen=True)
class Seen:
    """What one run said: texts told to the page with their times, and for each picture sent / back, in ms."""

    told: list[tuple[str, float]]
    pictures: list[dict[str, Any]]
    pressed: float

    @property
    def first_ms(self) -> float:
        """From the first picture of the camera to the first code told to the page."""
        return self.told[0][1] - self.pictures[0]["sent"] if self.told else float("inf")

    @property
    def press_ms(self) -> float:
        """From the press on Camera, which has to be opened, to the first code told to the page."""
        return self.told[0][1] - self.pressed if self.told else float("inf")

    @property
    def picture_ms(self) -> list[float]:
        """How long the reader took for each picture that it answered."""
        return [one["back"] - one["sent"] for one in self.pictures if "back" in one]


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--labels", type=int, default=96, help="labels in all films together (default 96)")
    parser.add_argument("--seed", type=int, default=1)


def run(options: dict[str, Any]) -> Iterator[str]:
    """Lines of a table: each tilt and trouble with how many labels of it were read; then the times."""
    shots = some_shots(options["labels"], options["seed"])
    told = shown(list(films.pictures_of(shots, seed=options["seed"])))
    with tempfile.TemporaryDirectory() as folder:
        still = Path(folder) / "still.mjpeg"
        films.write_film(still, [Shot(shots[0].text)], seed=options["seed"], pictures=3)
        with stage() as address:
            opened = [watch(still, address, seconds=4) for _ in range(5)]
    read = set(told)
    for trouble, tilt in product(films.TROUBLES, films.TILTS):
        alike = [shot for shot in shots if (shot.trouble, shot.tilt) == (trouble, tilt)]
        yield f"{trouble:<8} {tilt:>3} degrees  {sum(s.text in read for s in alike):>3} of {len(alike)} read"
    wrong = read - {shot.text for shot in shots}
    share = len(read - wrong) / len(shots)
    yield f"read {share:.1%} (at least {LEAST_READ:.0%}): {_met(share >= LEAST_READ)}"
    yield f"read wrong {len(wrong)} (none): {_met(not wrong)}"
    first, press = (statistics.median(times) for times in zip(*((o.first_ms, o.press_ms) for o in opened), strict=True))
    yield f"first picture to first read {first:.0f} ms, median of 5 (at most {FIRST_MS}): {_met(first <= FIRST_MS)}"
    yield f"press to first read, with opening the camera {press:.0f} ms"
    each = sorted(ms for one in opened for ms in one.picture_ms[1:])
    middle, most = statistics.median(each), each[int(0.95 * (len(each) - 1))]
    yield f"a picture {middle:.0f} ms (at most {EACH_MS}): {_met(middle <= EACH_MS)}"
    yield f"95 % of {len(each)} pictures within {most:.0f} ms"


def _met(yes: bool) -> str:
    return "met" if yes else "not met"


def some_shots(count: int, seed: int) -> list[Shot]:
    """Labels of every trouble and tilt in turn: bare codes, addresses, and every fourth a supplier's linear code."""
    ways = list(product(films.TROUBLES, films.TILTS))
    shots = []
    for n in range(count):
        trouble, tilt = ways[n % len(ways)]
        code = issue_label_code((n * 7_654_321 + seed) % 3_404_825_447)
        kind = (n + n // len(ways)) % 4
        text = (code, f"HTTPS://LOT.LAN/S/{code}", code, f"V-{2000 + n}-{code[:4]}")[kind]
        shots.append(Shot(text, kind == 3, tilt, trouble))
    return shots


@contextmanager
def stage(pictures: Sequence[bytes] = ()) -> Iterator[str]:
    """The camera's own files under the product's policies, and pictures, on 127.0.0.1; yields the address."""
    camera = render_to_string("scan/parts/camera.html", {"person": {"person": get_random_string(6)}})
    body = PAGE.format(camera=camera).encode()

    class Stage(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            name = self.path.removeprefix(settings.STATIC_URL)
            path = STATIC / name
            if self.path == "/":
                content = body
            elif self.path.startswith("/picture/"):
                content = pictures[int(self.path.rpartition("/")[2])]
            else:
                content = path.read_bytes() if path.is_file() and STATIC in path.resolve().parents else b""
            self.send_response(200 if content else 404)
            self.send_header("Content-Type", mimetypes.guess_type(name)[0] or "text/html")
            policy = CAMERA_WORKER_POLICY if name == CAMERA_WORKER else CONTENT_SECURITY_POLICY
            self.send_header("Content-Security-Policy", policy)
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, *args: Any) -> None:
            """Nothing is logged."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Stage) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}/"
        finally:
            server.shutdown()


def chromium() -> str:
    """The browser's program. Raises CommandError when there is none."""
    found = shutil.which("chromium")
    if found is None:
        raise CommandError("Chromium was not found, and the camera cannot be tried without: install it.")
    return found


@contextmanager
def browser(*flags: str) -> Iterator[Any]:
    """A headless Chromium with a stand-in for a camera. CommandError where there is none."""
    try:
        api = importlib.import_module("playwright.sync_api")
    except ImportError as error:
        raise CommandError("The Python package playwright was not found: install it to try the camera.") from error
    with api.sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium(), headless=True, args=[*FLAGS, *flags])
        yield started
        started.close()


def shown(labels: Sequence[Sequence[bytes]]) -> list[str]:
    """What the reader makes of the pictures of each label as a phone would that takes PACE_MS for each, so
    that it does not hang on this machine: SECONDS of each label, the next one a second later."""
    flat = [picture for label in labels for picture in label]
    with stage(flat) as address, browser() as chrome:
        page = chrome.new_page()
        page.goto(address)
        told: list[str] = page.evaluate(SHOW, [[len(label) for label in labels], PACE_MS, 1000 * SECONDS])
    return told


def watch(film: Path, address: str, *, seconds: float) -> Seen:
    """Open the camera before a film and let it play for so long after the first read (30 s at most without one)."""
    with browser(f"--use-file-for-fake-video-capture={film}") as chrome:
        page = chrome.new_page(viewport={"width": 412, "height": 740}, has_touch=True, is_mobile=True)
        page.add_init_script(WATCH)
        page.goto(address, wait_until="networkidle")
        page.click("[data-camera-open]")
        until = time.monotonic() + 30
        while time.monotonic() < until and not page.evaluate("window.told.length"):
            time.sleep(0.05)
        time.sleep(seconds)
        told, pictures, pressed = page.evaluate("[window.told, window.pictures, window.pressed]")
    return Seen([(text, at) for text, at in told], pictures, pressed)
