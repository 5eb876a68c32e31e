"""Two hulls side by side, and finding one by half a plate."""

from collections.abc import Callable

import pytest
from django.test import Client

from tests.cast import rows_of
from tests.pages.story import Told
from trace.pages.compare import compared
from trace.pages.finding import Wanted
from trace.pages.search import search_page


def test_only_what_differs_is_shown(story: Told) -> None:
    found = compared(story.hulls["bag change"], story.hulls["no log"])
    lines = {f"{g.title}: {d.about}": d for g in found.groups for d in g.lines}
    inserts = lines["Inserts: S5–S8"]
    assert (inserts.left, inserts.right, inserts.weight) == ("M8-N N-0398", "M8-N N-0417", "its lot is on hold")
    assert lines["Cook: log"].right_missing and not lines["Cook: log"].left_missing
    assert "Wall: skin mass" not in lines
    assert any(words.startswith("wall (skin material") for words in found.same)
    assert found.equal.endswith("things compared are the same.")
    assert found.gaps[0].startswith(story.hulls["bag change"])


def test_what_the_other_model_does_not_have_is_no_missing_record(story: Told) -> None:
    found = compared(story.hulls["no log"], story.hulls["sled"])
    inserts = {d.about: d for g in found.groups if g.title == "Inserts" for d in g.lines}
    assert inserts["H1–H4"].right == "not in this model"
    assert not any(d.left_missing or d.right_missing for d in inserts.values())


def test_a_hull_differs_from_itself_in_nothing(story: Told) -> None:
    found = compared(story.hulls["held"], story.hulls["held"])
    assert found.groups == ()


def names(**wanted: str) -> list[str]:
    return [x.name for x in search_page(Wanted(**wanted)).found]


def test_half_a_plate_with_a_sign_nobody_can_read(story: Told) -> None:
    assert story.hulls["no log"] in names(part="44?9")
    assert names(part="H320-*213") == [story.hulls["sled 2"]]
    assert names(part="h320-000212") == [story.hulls["sled"]]


@pytest.mark.parametrize(
    ("wanted", "which"),
    [
        ({"model": "H320", "colour": "lime"}, {"sled", "sled 2"}),
        ({"status": "dispatched"}, {"gone"}),
        ({"place": "R4-2"}, {"bag change", "held"}),
        ({"month": "2026-04", "model": "T430", "status": "bound"}, {"no log", "no foam"}),
        ({"month": "2026-05"}, set()),
    ],
)
def test_without_a_plate(story: Told, wanted: dict[str, str], which: set[str]) -> None:
    assert set(names(**wanted)) == {story.hulls[name] for name in which}


def test_lots_labels_and_things_are_found_too(story: Told) -> None:
    assert "N-0417" in names(part="0417")
    box = story.plant.boxes["m8 2"][0]
    assert f"{box[:4]}-{box[4:]}" in names(part=box)
    assert "T430-01" in names(part="T430-0")


def test_a_number_typed_by_heart_is_found_without_its_hyphens(story: Told) -> None:
    assert "N-0417" in names(part="n0417")
    assert names(part="H320 000212") == [story.hulls["sled"]]
    moulding = rows_of("SELECT lot_no FROM unit WHERE kind = 'moulding' ORDER BY id LIMIT 1")[0][0]
    assert moulding in names(part=moulding)


def test_badges_are_not_found(story: Told) -> None:
    badge = rows_of("SELECT l.code FROM label l JOIN resource r ON r.id = l.resource WHERE r.kind = 'person' LIMIT 1")
    assert badge
    assert names(part=badge[0][0]) == []


@pytest.mark.parametrize("part", ["%", "_", "x", "?", "\\", "'", "**", "\x00"])
def test_signs_of_the_query_language_find_nothing_by_themselves(story: Told, part: str) -> None:
    assert search_page(Wanted(part=part)).found == ()


def test_too_many_are_counted_not_shown(story: Told) -> None:
    page = search_page(Wanted(part="GHM"))
    assert len(page.found) == 50
    assert page.more == 43 + 18 - 50
    assert search_page(Wanted(part="33")).cut


def test_pages_answer(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-08")
    assert client.get("/compare/").status_code == 200
    both = {"a": story.hulls["gone"], "b": story.hulls["sled"]}
    assert client.get("/compare/", both).status_code == 200
    assert client.get("/compare/", {**both, "b": "NOPE"}).status_code == 404
    found = client.get("/search/", {"q": "0044", "month": "no month"}).content.decode()
    assert "is no month" in found
    # One lot number of two suppliers is a question, answered by a list.
    story.plant.shift.stock("VERRIN", "LL-35", "D-77", ("10.00",))
    assert client.get("/lot/D-77/")["Location"] == "/search/?q=D-77"
    assert client.get("/search/?q=D-77").content.decode().count(">D-77<") == 2
