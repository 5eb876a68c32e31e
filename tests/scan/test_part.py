"""The script of a station page is answered with what a scan changes of it, the same as stands in the whole page."""

import re
from typing import Any

from django.template import engines

from plant.once import once
from tests.scan.cast import Plant
from tests.scan.conftest import Opens
from tests.scan.rules.weighing import begun
from trace.models import Scan

FRESH = re.compile(r'name="(csrfmiddlewaretoken|scan_id|holds_listed)" value="[^"]+"')


def main_of(response: Any) -> str:
    """The page's main, without what is drawn anew for every form."""
    found = re.search(r"<main.*</main>", response.content.decode(), re.DOTALL)
    assert found is not None
    return FRESH.sub("", found[0])


def test_the_part_is_the_main_of_the_whole_page_and_nothing_else(plant: Plant, at: Opens) -> None:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    sent = {**screen.page.form.values, "gross": "12.20", "do": "send"}  # type: ignore[union-attr]
    part = screen.client.post("/scan/weigh/", sent, headers={"X-Wants": "main"})
    counted = Scan.objects.count()
    again = screen.client.post("/scan/weigh/", sent, headers={"X-Wants": "main"})
    whole = screen.client.post("/scan/weigh/", sent)
    assert Scan.objects.count() == counted
    assert main_of(again) == main_of(whole) != main_of(part)  # the first was recorded, the others were counted before
    assert "12.20 kg of LL-35 red" in main_of(part)
    outside = re.sub(r"<main.*</main>", "", part.content.decode(), flags=re.DOTALL)
    assert " ".join(outside.split()) == "<!doctype html> <title>Weigh · Lotwright</title>"
    assert "<body" in whole.content.decode()


def test_what_is_asked_as_a_page_comes_as_a_page(plant: Plant, at: Opens) -> None:
    screen = at("weigh")
    assert "<body" in screen.client.get("/scan/weigh/", headers={"X-Wants": "other"}).content.decode()


def test_a_part_is_kept_for_each_thing_it_is_given_and_escaped() -> None:
    head = {"title": "Weigh", "place": ""}
    ines, bo = (once("scan/parts/head.html", people=(name,), **head) for name in ("Ines <b>", "Bo"))
    assert "Ines &lt;b&gt;" in ines and "Bo" in bo and "Ines" not in bo
    assert once("scan/parts/head.html", people=("Bo",), **head) is bo
    text = engines["django"].from_string('{% load once %}{% once "scan/parts/head.html" title=t people=p place="" %}')
    assert "Ines &lt;b&gt;" in text.render({"t": "Weigh", "p": ("Ines <b>",)})
