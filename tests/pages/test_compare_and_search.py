"""Two hulls side by side, and finding one by half a plate."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.utils import timezone

from tests.cast import rows_of
from tests.pages.story import Told
from trace.pages.finding import Wanted
from trace.pages.search import in_words, search_page
from trace.readmodels.plantdata import newest
from trace.recording.acts.opening import OldHull
from trace.sheets.hulls.compared import compared
from trace.sheets.hulls.gathered import gather
from trace.sheets.hulls.sheet import hull_sheet


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
    assert page.most == 43 + 18
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


def test_a_long_answer_is_read_in_pages(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    assert f"Hulls 1 to 50 of {43 + 18}" in client.get("/search/?q=GHM").content.decode()
    story.plant.shift.stock("MARROW", "M8-N", "N-0500", ("10",) * 60)
    lots = search_page(Wanted(part="33"))
    assert lots.cut and len(lots.found) == 50
    first = client.get("/search/?q=33")
    assert "More than 50 found" in first.content.decode()
    rest = client.get(first.context["search"].older_url).context["search"]
    assert rest.found and not {x.name for x in rest.found} & {x.name for x in lots.found}


def test_a_plate_not_yet_bound_leads_to_what_is_known_of_it(story: Told, signed_in: Callable[[str], Client]) -> None:
    found = search_page(Wanted(part="T430-004455")).found
    assert [(x.name, x.kind) for x in found] == [("GHM-T430-004455", "plate")]
    page = signed_in("P-06").get(found[0].url)
    assert page.status_code == 200
    assert page.context["unit"].name == "GHM-T430-004455"


@pytest.mark.parametrize(
    ("made", "month", "said", "fits"),
    [
        ("2025-08-03", "2025-08", "made 3 Aug 2025", True),
        ("2025-08", "2025-08", "made Aug 2025", True),
        ("2025-08", "2026-06", "", False),
    ],
)
def test_an_old_hull_is_found_by_when_it_was_made_not_entered(
    story: Told, made: str, month: str, said: str, fits: bool
) -> None:
    story.plant.scan(
        OldHull(serial="OLD-7", product="T430", colour="red", made=made), person="P-05", station="opening"
    )
    found = search_page(Wanted(model="T430", month=month)).found
    assert [x.detail for x in found if x.name == "OLD-7"] == ([f"Tamsin 430, red, made before records, {said}"] * fits)


@pytest.mark.parametrize(
    ("part", "which", "read"),
    [
        ("Tamsin 430", {"gone", "bag change", "no log", "no foam", "held", "cooked twice"}, "Tamsin 430"),
        ("halcott lime", {"sled", "sled 2"}, "Halcott 320, lime"),
        ("lime", {"sled", "sled 2"}, "lime"),
        ("2026-04 lime", {"sled", "sled 2"}, "lime, Apr 2026"),
        ("april 2026 lime", {"sled", "sled 2"}, "lime, Apr 2026"),
        ("teal", set(), "teal"),
        ("0044 2026-05", set(), "May 2026, with “0044” on the plate"),
        ("november 2025", set(), "Nov 2025"),
    ],
)
def test_a_model_a_colour_and_a_month_are_words_of_the_one_box(
    story: Told, part: str, which: set[str], read: str
) -> None:
    page = search_page(Wanted(part=part))
    assert {x.name for x in page.found if x.kind == "hull"} == {story.hulls[name] for name in which}
    assert page.hint == f"Hulls looked for: {read}."


def test_words_and_half_a_plate_together(story: Told) -> None:
    page = search_page(Wanted(part="tamsin 4419"))
    assert [x.name for x in page.found] == [story.hulls["no log"]]
    assert page.hint == "Hulls looked for: Tamsin 430, with “4419” on the plate."


def test_a_month_without_a_year_is_the_last_one_that_has_come(story: Told) -> None:
    today = timezone.localdate()
    wanted = in_words(Wanted(part=f"{today:%B}"), newest())
    assert wanted is not None and (wanted.part, wanted.month) == ("", f"{today:%Y-%m}")
    later = in_words(Wanted(part="december"), newest())
    assert later is not None and later.month == f"{today.year - (today.month < 12)}-12"


@pytest.mark.parametrize("part", ["T430 4419", "H320 0213", "2026 1187", "N 041700"])
def test_a_number_with_a_blank_is_no_misread_label(story: Told, part: str) -> None:
    page = search_page(Wanted(part=part))
    assert "label code" not in page.hint


def test_a_plate_with_a_blank_is_found_and_a_misread_label_still_said(story: Told) -> None:
    assert names(part="T430 4419") == [story.hulls["no log"]]
    assert "is not a label code" in search_page(Wanted(part="3333-333O")).hint


def test_a_material_brings_its_lots(story: Told) -> None:
    found = {(x.kind, x.name) for x in search_page(Wanted(part="m8-n")).found}
    assert {("material", "M8-N"), ("lot", "N-0398"), ("lot", "N-0417")} <= found


def test_no_row_ends_in_a_bare_point(story: Told, signed_in: Callable[[str], Client]) -> None:
    page = signed_in("P-06").get("/search/?q=CALDER").content.decode()
    assert '<span class="line-line">consignee</span>' in page


def test_what_a_hull_was_not_made_with_is_not_missing(story: Told) -> None:
    story.plant.go_on()
    cast = story.plant.shift
    left, right = gather(story.hulls["cooked twice"]), gather(story.hulls["sled"])
    a, b = hull_sheet(left), hull_sheet(right)
    found = compared(story.hulls["cooked twice"], story.hulls["sled"])
    lines = {f"{g.title}: {d.about}": d for g in found.groups for d in g.lines}
    loggers = {i.name for i in a.instruments} ^ {i.name for i in b.instruments}
    assert loggers and cast
    for name in loggers:
        line = lines[f"Hands and instruments: {name}"]
        assert "not used" in (line.left, line.right) and not (line.left_missing or line.right_missing)
    again = lines["Cook: cook 2, oven"]
    assert (again.right, again.right_missing) == ("not cooked again", False)


def test_stages_are_compared_by_their_time_from_the_start(story: Told) -> None:
    found = compared(story.hulls["cooked twice"], story.hulls["held"])
    lines = {d.about: d for g in found.groups if g.title == "Cook" for d in g.lines}
    assert "min after the start" in lines["cook 2, stage “heat”"].left
    same = " ".join(found.same)
    assert "stage “drop foam”" in same or "stage “drop foam”" in lines


def test_half_a_plate_is_enough_to_compare(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    sled = story.hulls["sled"]
    both = client.get("/compare/", {"a": "4419", "b": "H320 000212"}).context["compare"]
    assert (both.left, both.right) == (story.hulls["no log"], sled)
    several = client.get("/compare/", {"a": "H320", "b": "4419"})
    assert several.context["compare"] is None
    page = several.content.decode()
    assert "Several plates fit: choose which is meant." in page
    same = client.get("/compare/", {"a": "4419", "b": sled}).content.decode()
    assert f"<summary>{both.equal}</summary>" in same
    assert f"<option>{sled}</option>" in page and f"<option>{story.hulls['sled 2']}</option>" in page
    assert client.get("/compare/", {"a": sled, "b": "nowhere"}).status_code == 404


def test_a_hull_is_not_compared_with_itself(story: Told, signed_in: Callable[[str], Client]) -> None:
    plate = story.hulls["sled"]
    answer = signed_in("P-06").get("/compare/", {"a": plate, "b": plate.lower()})
    assert answer.context["compare"] is None
    assert f"Both are {plate}: give the plate of another hull." in answer.content.decode()
