"""The sheets of labels: what a demo and a plant show; a reader written by others reads them."""

import re

import zxingcpp
from django.db import connection
from django.test import Client
from PIL import Image, ImageDraw

from tests.labels.raster import pages as pdf_pages
from tests.scan import cast
from tests.scan.cast import Plant
from trace.demo.plant import PEOPLE

SYMBOL = re.compile(r'viewBox="0 0 (\d+) \d+".*?label-ink" d="([^"]+)"', re.DOTALL)
RUN = re.compile(r"M(\d+) (\d+)h(\d+)v1h-\d+z")


def read_back(page: str) -> list[str]:
    """Every symbol on the page, painted from its path and read."""
    found = []
    for side, path in SYMBOL.findall(page):
        picture = Image.new("1", (int(side), int(side)), 1)
        draw = ImageDraw.Draw(picture)
        for x, y, length in RUN.findall(path):
            draw.line((int(x), int(y), int(x) + int(length) - 1, int(y)), fill=0)
        large = picture.convert("L").resize((4 * int(side), 4 * int(side)), Image.Resampling.NEAREST)
        found += [one.text for one in zxingcpp.read_barcodes(large)]
    return found


def test_a_demo_shows_every_label_with_badges_and_pins_to_anybody(plant: Plant) -> None:
    page = Client().get("/labels/to-try/").content.decode()
    codes = read_back(page)
    assert len(codes) == len(set(codes)) == page.count("label-ink")
    everything = {
        *(plant[key] for key in ("T430-01", "W-3", "S1", "OVEN-2", "R4-2", "WO-1041", "SO-220", "P-01", "P-06")),
        *(plant[key] for key in ("red", "natural", "foam", "m8", "m6", "side", "capacity", "vessel")),
        *plant["tubs"], *plant["drops"], cast.SERIALS[0],
    }  # fmt: skip
    assert everything - set(codes) == set()
    for key, name, _roles, _tasks, pin in PEOPLE:
        assert plant[key] in codes
        assert name in page and pin in page
    assert "T430: S1–S8" in page


def test_a_plant_shows_its_things_and_no_badge_and_no_pin(plant: Plant, client: Client) -> None:
    _sign_on(client, plant, cast.LEAD)
    page = client.get("/labels/plant/").content.decode()
    codes = set(read_back(page))
    assert {plant["T430-01"], plant["W-3"], plant["R4-2"]} <= codes
    assert not codes & {plant["P-01"], plant["red"], plant["tubs"][0]}
    assert PEOPLE[0][4] not in page and PEOPLE[0][1] not in page.partition("<main")[2]


def test_the_pdf_holds_the_same_labels(plant: Plant, client: Client) -> None:
    _sign_on(client, plant, cast.LEAD)
    shown = read_back(client.get("/labels/plant/").content.decode())
    answer = client.get("/labels/plant/?as=pdf")
    assert answer["Content-Type"] == "application/pdf"
    printed = {one.text for page in pdf_pages(answer.content) for one in zxingcpp.read_barcodes(page)}
    assert printed == set(shown)


def test_what_is_not_released_or_held_says_so(plant: Plant) -> None:
    plant.shift.receive("VERRIN", "LL-35 red", "V-2299", ("25.00",))
    page = Client().get("/labels/to-try/").content.decode()
    assert re.search(r"lot V-2299.*?not released: it is refused", page, re.DOTALL)
    assert page.count("it is refused") == 1


def test_outside_a_demo_there_is_no_such_page(unmarked_database: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM installation")
        assert cursor.fetchone() == (0,)
    assert Client().get("/labels/to-try/").status_code == 404
    assert "/labels/to-try/" not in Client().get("/sign-in/").content.decode()


def test_a_demo_leads_there_from_the_badge_page_and_from_home(plant: Plant, client: Client) -> None:
    assert "/labels/to-try/" in client.get("/sign-in/").content.decode()
    _sign_on(client, plant, cast.OPERATOR)
    assert "/labels/to-try/" in client.get("/").content.decode()


def _sign_on(client: Client, plant: Plant, key: str) -> None:
    client.post("/sign-in/", {"badge": plant[key], "pin": cast.PIN})
