"""Whatever a form carries, the answer is a page with a sentence: never a failure, never foreign text as markup."""

import io
import random
from typing import Any
from urllib.parse import quote

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from PIL import Image

from tests.scan.cast import OPERATOR, PIN, QUALITY, Plant
from tests.scan.conftest import Opens
from trace.codes import uuid7
from trace.readmodels.rebuild import differences
from trace.scan.stations import STATIONS

MARK = "<script>x('⟦person:P-08⟧')</script>"
HOSTILE: dict[str, str] = {
    "empty": "",
    "long": "7" * 5000,
    "nul": "a\x00b",
    "control": "\x01\x02\x1b[31m\r\nSet-Cookie: a=b",
    "right to left": "\u202e4417\u2066",
    "look-alikes": "3333\u20103\u041134Ү",
    "emoji": "🛶" * 40,
    "surrogate": "\ufffd\ufffe",
    "markup": MARK,
    "template": "{{ 7|add:7 }}{% load x %}${7*7}",
    "tokens": "⟦person:P-08⟧⟦note:abc⟧",
    "sql": "'; DROP TABLE unit; --",
    "format": "{x.__class__.__mro__}{0}%s%(a)s",
    "cel": "a.b == c && size(d) > 1e999",
    "comma": "1,5",
    "minus": "-1",
    "exponent": "1e9",
    "not a number": "NaN",
    "infinite": "Infinity",
    "hexadecimal": "0x10",
    "other digits": "١٢",
    "digits": "0." + "1" * 40,
    "far day": "9999-12-31",
    "no day": "2026-02-30",
    "path": "../../etc/passwd",
    "json": '{"a": [1, {"b": null}]}',
}
TRUTH = ("event", "unit", "edge", "label", "serial", "hold")
OF_STATION: dict[str, tuple[str, ...]] = {
    "weigh": ("order", "layer", "box", "tub", "scale", "gross", "tare", "part"),
    "check-weight": ("scale", "shown"),
    "load": ("mould", "order", "arm", "positions", "counted", "zone"),
    "oven": ("oven", "arm", "moulds", "mould", "stage", "piat", "temperature", "arm_rpm", "plate_rpm"),
    "demould": ("mould", "plate", "cavity", "mass"),
    "dispatch": ("order", "packs", "consignee", "vehicle"),
    "goods-in": ("supplier", "material", "lot_no", "amounts", "made", "expires", "hold_reason"),
}
EVERYWHERE = (
    "code", "scan_id", "passed", "rule", "slot", "typed", "badge", "reason", "reason_words", "do", "late", "happened",
)  # fmt: skip


def counts() -> list[int]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT " + ", ".join(f"(SELECT count(*) FROM {t})" for t in TRUTH))
        return list(cursor.fetchone())


def looks_right(response: Any, what: str) -> str:
    assert response.status_code < 500, what
    text: str = response.content.decode()
    assert "Traceback" not in text, what
    # Inside JSON it is a text like any other, and nosniff keeps it one.
    assert "<script>x(" not in text or response.headers["Content-Type"] == "application/json", what
    assert "Hanne Brook" not in text, what
    assert "__mro__" not in text or "{x.__class__" in text, what
    assert not any("\r" in v or "\n" in v for v in response.headers.values()), what
    return text


@pytest.mark.parametrize("slug", sorted(STATIONS))
def test_every_box_of_every_station(at: Opens, slug: str) -> None:
    screen = at(slug)
    assert screen.page is not None
    form = screen.page.form
    names = {*form.values, *form.boxes, *OF_STATION.get(slug, ()), *EVERYWHERE} - {"csrfmiddlewaretoken", "photo"}
    before = counts()
    for name in sorted(names):
        # A third of the texts for each box, other ones for each; over all boxes every text comes many times.
        for what, value in random.Random(slug + name).sample(sorted(HOSTILE.items()), 9):
            sent = {**form.values, "do": "send", "scan_id": str(uuid7()), name: value}
            looks_right(screen.client.post(f"/scan/{slug}/", sent), f"{slug} {name} {what} {value[:60]}")
    if slug not in ("labels", "discrepancies"):
        assert counts()[0] - before[0] <= len(names), "hostile values were recorded as facts"


def test_many_boxes_and_repeated_ones(at: Opens) -> None:
    screen = at("weigh")
    many = {f"x{n}": MARK for n in range(500)}
    post, weigh = screen.client.post, "/scan/weigh/"
    looks_right(post(weigh, many), "500 boxes")
    looks_right(post(weigh, {"code": ["a", MARK, "W-3"], "order": ["WO-1041", "T430-02"]}), "twice")
    body = b"code=%ff%fe%80&order=%ed%a0%80&scan_id=%00"
    looks_right(post(weigh, body, content_type="application/x-www-form-urlencoded"), "bytes")
    looks_right(post(weigh, b"--x\r\nbroken", content_type="multipart/form-data; boundary=x"), "cut")


def test_rights_cannot_be_forged(at: Opens) -> None:
    screen = at("weigh", OPERATOR)
    sent = {"order": "WO-1041", "scale": "W-4", "layer": "skin", "gross": "99", "do": "send", "tell": "fact",
            "override": "yes", "reason": "asked", "reason_words": "x", "rule": "CHARGE-HEAVY",
            "passed": '{"CHARGE-HEAVY": "mine", "PACK-HELD": "mine"}', "person": "P-06"}  # fmt: skip
    before = counts()
    looks_right(screen.client.post("/scan/weigh/", {**sent, "scan_id": str(uuid7())}), "forged")
    assert counts() == before
    for slug in ("hold", "release-hold", "release", "badges"):
        assert screen.client.post(f"/scan/{slug}/", sent).status_code == 403


def pictures() -> dict[str, bytes]:
    bomb = io.BytesIO()
    Image.new("1", (12000, 12000)).save(bomb, "PNG")
    good = io.BytesIO()
    Image.new("L", (300, 200), 128).save(good, "JPEG")
    return {
        "bytes": bytes(range(256)) * 20,
        "bomb": bomb.getvalue(),
        "cut": good.getvalue()[:200],
        "drawing": b"<svg xmlns='http://www.w3.org/2000/svg'><script>x()</script></svg>",
        "page": b"<html><script>x()</script></html>",
        "empty": b"",
        "nothing in it": good.getvalue(),
    }


def test_photos(at: Opens) -> None:
    screen = at("weigh")
    for what, data in pictures().items():
        photo = SimpleUploadedFile("../../<script>.jpg", data, "image/jpeg")
        text = looks_right(screen.client.post("/scan/weigh/", {"photo": photo, "scan_id": str(uuid7())}), what)
        assert "photo" in text.lower()


DESK = (
    "/hull/{}/", "/lot/{}/", "/unit/{}/", "/search/?q={}", "/search/?model={}&colour={}&month={}",
    "/compare/?a={}&b={}", "/labels/?codes={}", "/labels/?codes=3333334Y&layout={}", "/S/{}",
    "/api/genealogy/back/{}/", "/setup/product/{}/",
    "/hull/GHM-T430-004417/?as_known_on={}", "/lot/V-2288/?as_known_on={}",
    "/api/genealogy/forward/V-2288/?as_known_on={}",
    "/scan/{}/", "/rules/?{}",
)  # fmt: skip
TIMES = ("0001-01-01", "9999-12-31T23:59:59+25:00", "2026-11-25T10:00", "now", "-1", "2026-13-01T00:00:00Z", "1e9")


def test_every_address_of_the_desk(at: Opens) -> None:
    client = at("inspect", QUALITY).client
    for address in DESK:
        for value in (*HOSTILE.values(), *TIMES, "%", "_", "*", "\\", "?"):
            # As a browser sends it: quoted.
            url = address.replace("{}", quote(value, safe=""))
            looks_right(client.get(url[:8000]), f"{address} {value[:60]}")


def test_strangers_learn_nobodys_name(plant: Plant) -> None:
    client = Client()
    paths = ("/", "/sign-in/", "/S/3333334Y", "/hull/GHM-T430-004417/", "/scan/weigh/", "/api/rules/", "/labels/")
    for path in paths:
        text = client.get(path, follow=True).content.decode()
        assert not any(name in text for name in ("Priya", "Ashdown", "Orrell")), path


def test_guesses_at_a_badge_are_one_sentence(plant: Plant) -> None:
    client = Client()
    for value in HOSTILE.values():
        sent = {"badge": value, "pin": PIN, "next": "//elsewhere.example/"}
        looks_right(client.post("/sign-in/", sent), f"badge {value[:40]}")


def test_the_read_models_still_agree(at: Opens) -> None:
    screen = at("weigh")
    for value in list(HOSTILE.values())[:12]:
        screen.client.post("/scan/weigh/", {"code": value, "order": "WO-1041", "tell": "fact", "scan_id": str(uuid7())})
    assert differences() == []
