"""Whatever a form carries, the answer is a page with a sentence: never a failure, never foreign text as markup."""

import copy
import io
import itertools
import json
import os
import random
from typing import Any
from urllib.parse import quote

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test import Client
from PIL import Image

from tests.scan import test_whole_hull
from tests.scan.browser import Form, Page, Screen
from tests.scan.cast import OPERATOR, PIN, QUALITY, Plant
from tests.scan.conftest import Opens
from trace.codes import uuid7
from trace.readmodels import plantdata
from trace.readmodels.rebuild import differences
from trace.recording.rules.table import BY_CODE
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
    "nested": "[" * 5000,
    "nested names": '{"a":' * 800,
    "wide digits": "\uff11\uff12",
    "half": "½",
    "no-break blank": "\u00a012",
    "first day": "0001-01-01",
    "before the first day": "0001-01-01T00:00:00+14:00",
    "after the last day": "9999-12-31T23:59:59-14:00",
    "great": "99999999999999.9",
}
# Texts for each box of a station; with LONG_TESTS (deploy/test --long) twice as many.
EACH_BOX = 6 if os.environ.get("LONG_TESTS") else 3
ADMINISTRATOR = "P-09"
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


def signed_in(plant: Plant, key: str) -> Client:
    screen = Screen()
    screen.sign_on(plant[key], PIN)
    return screen.client


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
        # A few of the texts for each box, other ones for each; over all boxes every text comes many times.
        for what, value in random.Random(slug + name).sample(sorted(HOSTILE.items()), EACH_BOX):
            sent = {**form.values, "do": "send", "scan_id": str(uuid7()), name: value}
            looks_right(screen.client.post(f"/scan/{slug}/", sent), f"{slug} {name} {what} {value[:60]}")
    if slug not in ("labels", "discrepancies"):
        assert counts()[0] - before[0] <= len(names), "hostile values were recorded as facts"


# Sent beside a form that is otherwise whole: as a fact, late, with every rule claimed as overridden, overridden.
BESIDE: tuple[dict[str, str], ...] = (
    {},
    {},
    {"tell": "fact"},
    {"late": "yes"},
    {"passed": json.dumps(dict.fromkeys(BY_CODE, "x"))},
    {"override": "yes", "reason": "x", "reason_words": MARK, "rule": "TYPED"},
)
EACH = 3  # hostile forms before each true one


def test_each_form_of_a_whole_hull_with_one_box_spoiled(
    plant: Plant, at: Opens, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before each true form of the story the same form goes with one value spoiled; what it records is undone."""
    send, chance, tried = Screen.send, random.Random(4417), set[str]()

    def spoil(screen: Screen, form: Form, values: dict[str, Any], press: tuple[str, str]) -> Page:
        true = {**form.values, press[0]: press[1], **values}
        names = sorted({*true, *form.boxes, "passed", "happened", "badge"} - {"csrfmiddlewaretoken", "photo"})
        for _each in range(EACH):
            name, (what, value), beside = chance.choice(names), next(texts), chance.choice(BESIDE)
            sent = {**true, "scan_id": str(uuid7()), **beside, name: value}
            if name == "happened":
                sent["late"] = "yes"
            cookies = copy.deepcopy(screen.client.cookies)
            with transaction.atomic():
                answer = screen.client.post(f"/scan/{screen.slug}/", sent)
                looks_right(answer, f"{screen.slug} {name} {what} {sorted(beside)}")
                transaction.set_rollback(True)
            screen.client.cookies = cookies
            plantdata.forget()
            tried.add(what)
        return send(screen, form, values, press)

    texts = itertools.cycle(sorted(HOSTILE.items()))
    monkeypatch.setattr(Screen, "send", spoil)
    # The story itself ends with the read models compared with the records.
    test_whole_hull.test_a_hull_goes_from_goods_in_to_dispatch_through_the_pages(plant, at)
    assert tried == set(HOSTILE)


# What fell once: (the box, the text).
FELL = (
    ("passed", "nested"), ("passed", "nested names"), ("happened", "first day"),
    ("happened", "before the first day"), ("happened", "after the last day"),
)  # fmt: skip


@pytest.mark.parametrize(("name", "what"), FELL)
def test_times_and_claims_no_calendar_and_no_form_holds(plant: Plant, at: Opens, name: str, what: str) -> None:
    screen = at("check-weight")
    sent = {"scale": plant["W-3"], "shown": "10.00", "do": "send", "scan_id": str(uuid7()), name: HOSTILE[what]}
    late = {"late": "yes"} if name == "happened" else {}
    before = counts()
    text = looks_right(screen.client.post("/scan/check-weight/", {**sent, **late}), what)
    if late:
        assert "Nothing was recorded" in text
        assert counts() == before


@pytest.mark.parametrize("what", ["other digits", "wide digits", "great", "not a number", "no-break blank", "half"])
def test_a_certificates_value_is_written_in_plain_digits(plant: Plant, at: Opens, what: str) -> None:
    screen = at("certificate")
    screen.scan(plant["red"])
    before = counts()[0]
    screen.fill(lot_on_certificate="V-2288", value_mfi=HOSTILE[what], value_density="0.938")
    page = screen.press("certify")
    # A no-break blank around a figure is a blank: it is taken off as any other.
    # (12 is no index of this powder: the lot is held.)
    assert (page.outcome == "flagged") is (what == "no-break blank"), page.verdict
    assert counts()[0] - before == (what == "no-break blank")


# Bodies that are JSON but no plant data: (field or part of the drawing, the value as JSON).
BODIES = (
    *(("drawing", part, value) for part in ("positions", "graphics", "zones") for value in ("null", "5", '"x"', "[1]")),
    ("drawing", "box", "[1, 1e3]"), ("name", "", '"\\ud800"'), ("name", "", '"\\u0000"'), ("area_m2", "", "9" * 30),
    ("month_on_plate", "", "9" * 30), ("layers", "", "[[]]"), ("quantity", "", "7" * 5000),
    ("colours", "", "[]"), ("cook", "", "[" * 5000),
)  # fmt: skip


def test_plant_data_that_is_none(plant: Plant) -> None:
    client = signed_in(plant, ADMINISTRATOR)
    product = plantdata.newest().body("product", "T430")
    before = counts()
    for field, part, value in BODIES:
        body = copy.deepcopy(dict(product))
        holder, name = (body[field], part) if part else (body, field)
        holder[name] = "HERE"
        text = json.dumps(body).replace('"HERE"', value)
        sent = {"key": "T430", "body": text, "scan_id": str(uuid7())}
        answer = client.post("/setup/product/", sent)
        looks_right(answer, f"{field} {part} {value[:40]}")
        assert answer.status_code == 409, f"{field} {part} {value[:40]}"
    for value in HOSTILE.values():
        for sent in ({"key": value, "body": "{}"}, {"key": "T430", "body": value}, {"key": "T430", "name": value}):
            answer = client.post("/setup/product/", {**sent, "scan_id": str(uuid7())})
            looks_right(answer, str(sent)[:80])
            assert answer.status_code == 409
    assert counts() == before


def test_rules_switched_by_foreign_values(plant: Plant) -> None:
    fixed = next(code for code, rule in BY_CODE.items() if rule.fixed)
    before = counts()
    for key, wanted in ((ADMINISTRATOR, {400, 409}), (QUALITY, {403}), (OPERATOR, {403})):
        client = signed_in(plant, key)
        # Who may not is turned away before a value is read: a few show it.
        for value in list(HOSTILE.values())[: None if key == ADMINISTRATOR else 3]:
            for sent in ({"code": value, "verdict": "off"}, {"code": "CHARGE-HEAVY", "verdict": value}):
                answer = client.post("/rules/", {**sent, "scan_id": str(uuid7())})
                looks_right(answer, str(sent)[:80])
                assert answer.status_code in wanted, str(sent)[:80]
        # One that no plant can switch, and a number of a form that is none.
        for sent in ({"code": fixed, "scan_id": str(uuid7())}, {"code": "CHARGE-HEAVY", "scan_id": "1"}):
            answer = client.post("/rules/", {**sent, "verdict": "off"})
            looks_right(answer, str(sent))
            assert answer.status_code in wanted, str(sent)
    assert counts() == before


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
        # As the picture of a code, and as one kept as evidence.
        for name in ("photo", "photo_label"):
            photo = SimpleUploadedFile("../../<script>.jpg", data, "image/jpeg")
            text = looks_right(screen.client.post("/scan/weigh/", {name: photo, "scan_id": str(uuid7())}), what)
            assert name == "photo_label" or "photo" in text.lower(), what
            assert "<script>" not in text, what


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
    values = [*HOSTILE.values(), *TIMES, "%", "_", "*", "\\", "?"]
    for address in DESK:
        # Half of the texts for each address, other ones for each.
        for value in random.Random(address).sample(values, len(values) // 2):
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
