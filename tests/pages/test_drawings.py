"""Drawings: words never meet or leave the sheet, layers and levels are to scale, no word can be markup."""

import re
from collections import Counter
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from math import isclose
from xml.etree import ElementTree

import pytest
from django.template.loader import render_to_string
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageFont

from trace.codes.positions import named_together
from trace.demo.drawings import DRAWINGS, H320, T430
from trace.drawings import (
    LayerFill,
    LayerLot,
    MouldPlan,
    PositionState,
    Share,
    ZoneReading,
    container_drawing,
    mould_plan,
    mould_plans,
    station_plan,
    wall_section,
)
from trace.drawings.callouts import Callout, above_and_below, left_and_right
from trace.drawings.hatching import bubbles, hatch_lines
from trace.drawings.strip import WIDTH, strip
from trace.drawings.time_line import TimeRow, time_line, time_lines
from trace.drawings.words import words_width

D = Decimal
SVG = "{http://www.w3.org/2000/svg}"


def boxes(plan: MouldPlan, size: float) -> list[tuple[float, float, float, float]]:
    """Left, top, right, bottom of every label, as wide as words may be."""
    found = []
    for words in plan.labels:
        long = words_width(words.text, size)
        left = words.x - long if words.anchor == "end" else words.x
        found.append((left, words.y - size * 0.8, left + long, words.y + size * 0.2))
    return found


def meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def filled(name: str) -> tuple[dict[str, PositionState], dict[str, PositionState], dict[str, ZoneReading]]:
    drawing = DRAWINGS[name]
    positions = {
        p: PositionState(
            "marked" if n % 3 == 0 else "done", f"M8-N lot N-0{410 + n // 2}", certain=n % 4 != 1
        )
        for n, p in enumerate(drawing["positions"])
    }
    graphics = {g: PositionState("done", "Tamsin side C, lot P-071") for g in drawing["graphics"]}
    zones = {z: ZoneReading("3.2 mm, least 3.4", below=True) for z in drawing["zones"]}
    return positions, graphics, zones


@pytest.mark.parametrize("name", DRAWINGS)
@pytest.mark.parametrize("upright", [False, True])
def test_words_never_meet_or_leave_the_sheet(name: str, upright: bool) -> None:
    pair = mould_plans(DRAWINGS[name], *filled(name), title=name)
    plan, size = (pair.upright, 13.0) if upright else (pair.wide, 14.0)
    found = boxes(plan, size)
    assert found
    for i, box in enumerate(found):
        assert box[0] >= 0
        assert box[2] <= plan.width
        assert box[1] >= plan.top
        assert box[3] <= plan.top + plan.height
        assert not any(meet(box, other) for other in found[i + 1 :])


callouts = st.lists(
    st.builds(
        Callout,
        text=st.text("ABCD 0123", min_size=1, max_size=40),
        x=st.floats(0, 800),
        y=st.floats(0, 200),
        reach=st.just(5.0),
    ),
    max_size=14,
)


@settings(max_examples=60, deadline=None)
@given(callouts)
def test_rows_keep_any_words_apart(said: list[Callout]) -> None:
    placed, above, below = above_and_below(said, width=800, top=0, bottom=200, middle=100, size=14)
    assert len(placed) == len(said)
    found = [(p.x, p.y - 11, p.x + words_width(p.lines[0], 14), p.y + 3) for p in placed]
    for i, box in enumerate(found):
        assert box[0] >= 0
        assert box[2] <= 804.5
        assert box[1] >= -above
        assert box[3] <= 200 + below
        assert not any(meet(box, other) for other in found[i + 1 :])


@settings(max_examples=60, deadline=None)
@given(callouts)
def test_columns_keep_any_words_apart(said: list[Callout]) -> None:
    placed, above, below = left_and_right(said, width=800, left=250, right=550, height=200, size=14)
    assert len(placed) == len(said)
    found = [(p.anchor, p.y - 11 + 16 * n, p.y + 3 + 16 * n) for p in placed for n in range(len(p.lines))]
    for i, (side, top, bottom) in enumerate(found):
        assert top >= -above
        assert bottom <= 200 + below
        assert not any(side == s and top < b and t < bottom for s, t, b in found[i + 1 :])


def test_room_for_words_is_enough_for_a_real_typeface() -> None:
    """Widths against the typeface that Pillow carries (a general-purpose library)."""
    face = ImageFont.load_default(size=14)
    for text in (
        "S5–S8: M8-N lot N-0417",
        "Starboard: Tamsin side C, lot P-071",
        "Z5 3.2 mm, least 3.4",
        "MMWW",
    ):
        assert face.getlength(text) <= words_width(text, 14) * (1.0 if text != "MMWW" else 1.7)


def test_every_position_stands_inside_the_makers_box() -> None:
    for drawing in DRAWINGS.values():
        width, height = drawing["box"]
        for x, y in [*drawing["positions"].values(), *drawing["zones"].values()]:
            assert 0 < x < width
            assert 0 < y < height


def test_touring_kayak_has_the_inserts_of_its_plan() -> None:
    """Eight for seat and rudder, four for the hatches: the plant's own plan."""
    names = list(T430["positions"])
    assert [n for n in names if n.startswith("S")] == [f"S{n}" for n in range(1, 9)]
    assert [n for n in names if n.startswith("H")] == [f"H{n}" for n in range(1, 5)]
    assert set(T430["graphics"]) == {"PORT", "STARBOARD", "CAPACITY"}
    assert len(T430["zones"]) == 6
    assert {"E1", "E2", "E3", "E4"} <= set(H320["positions"])


def test_open_and_marked_positions_are_told_apart_by_shape() -> None:
    plan = mould_plan(T430, {"S1": PositionState("done", "a"), "S2": PositionState("marked", "b")})
    marks = {m.name: m for m in plan.marks}
    assert marks["S1"].standing == "done"
    assert marks["S2"].bar
    assert marks["S3"].standing == "open"
    assert "S2: b" in plan.description


def test_marks_of_a_station_do_not_touch() -> None:
    for name, drawing in DRAWINGS.items():
        marks = station_plan(drawing, {}).marks
        for i, a in enumerate(marks):
            for b in marks[i + 1 :]:
                assert ((a.x - b.x) ** 2 + (a.y - b.y) ** 2) ** 0.5 >= a.r + b.r, name


def test_upright_turns_the_bow_up() -> None:
    plan = mould_plan(T430, {}, upright=True, width=384)
    stern = next(m for m in plan.marks if m.name == "S7")
    fore = next(m for m in plan.marks if m.name == "H3")
    assert fore.y < stern.y
    port = next(m for m in plan.marks if m.name == "S1")
    starboard = next(m for m in plan.marks if m.name == "S4")
    assert port.x < starboard.x


SKIN = LayerFill("Skin", "LL-35 red", "#c8452e", D("2.5"), D("12.19"))
FOAM = LayerFill(
    "Foam",
    "FM-22",
    "#f3ead0",
    D("8.0"),
    D("9.16"),
    (LayerLot("F-118", "certain", D("6.90"), D("9.16")), LayerLot("F-121", "may", D(0), D("2.26"))),
    foam=True,
)


def test_layers_are_drawn_to_one_scale() -> None:
    inner = LayerFill("Inner", "LL-35", "#9fb1ba", D("1.5"), D("7.31"))
    section = wall_section([SKIN, FOAM, inner])
    heights = [b.height for b in section.fills]
    assert isclose(heights[0] / heights[1], 2.5 / 8.0, rel_tol=1e-6)
    assert isclose(heights[2] / heights[1], 1.5 / 8.0, rel_tol=1e-6)
    assert [b.fill for b in section.fills] == ["#c8452e", "#f3ead0", "#9fb1ba"]


def test_a_layer_without_a_record_is_empty_and_says_so() -> None:
    section = wall_section([SKIN, LayerFill("Inner", "LL-35", missing=True)])
    assert section.fills[1].fill == ""
    assert "layer-missing" in section.fills[1].kind
    assert "no record" in [w.text for w in section.words]
    assert "Inner: no record" in section.description


def test_what_may_be_is_longer_and_apart_from_what_is_certain() -> None:
    bars = wall_section([FOAM]).bars
    assert [b.kind for b in bars] == ["bar-may", "bar-certain", "bar-may"]
    assert isclose(bars[1].width / bars[0].width, 6.90 / 9.16, rel_tol=0.01)


def test_foam_and_hatching_stay_in_their_layer() -> None:
    for bubble in bubbles(10, 20, 170, 90):
        assert bubble.x - bubble.r >= 10
        assert bubble.x + bubble.r <= 180
        assert bubble.y - bubble.r >= 20
        assert bubble.y + bubble.r <= 110
    for falling in (False, True):
        numbers = [float(n) for n in re.findall(r"-?\d+\.\d", hatch_lines(10, 20, 170, 34, falling=falling))]
        for ax, ay, bx, by in zip(*[iter(numbers)] * 4, strict=True):
            assert min(ax, bx) >= 10
            assert max(ax, bx) <= 180
            assert min(ay, by) >= 20
            assert max(ay, by) <= 54
            assert isclose(abs(ax - bx), abs(ay - by), abs_tol=0.11)  # 45 degrees, up to rounding


def test_level_of_a_box_is_what_is_left() -> None:
    """A box is upright, so its filled area is the share left (area by the shoelace formula)."""
    full = container_drawing("box", filled=D(500), left=D(500))
    part = container_drawing("box", filled=D(500), left=D("187.5"))
    assert isclose(area(part.fill_path) / area(full.fill_path), 0.375, abs_tol=0.002)
    assert container_drawing("box", filled=D(500), left=D(0)).fill_path == ""


def test_bars_of_a_container_are_shares_of_what_went_in() -> None:
    shares = (Share("Charges", "certain", D(250), D(250)), Share("Part-box", "may", D(0), D(50)))
    bars = container_drawing("octabin", filled=D(500), left=D(200), shares=shares).bars
    assert [b.kind for b in bars] == ["bar-certain", "bar-may"]
    assert isclose(bars[1].width / bars[0].width, 50 / 250, rel_tol=0.01)


def area(path: str) -> float:
    points = [tuple(map(float, p.split())) for p in path.strip("MZ").split("L")]
    turned = [*points[1:], points[0]]
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, turned, strict=True))) / 2


def test_names_in_a_row_are_drawn_together() -> None:
    assert named_together(["S1", "S2", "S3", "S8", "H1", "H2"]) == "S1–S3, S8, H1, H2"


def rendered() -> Iterator[str]:
    evil = "<script>alert(1)</script>&\"'"
    plan = mould_plan(T430, {"S1": PositionState("done", evil)}, title=evil)
    yield render_to_string("drawings/mould_plan.svg.html", {"plan": plan, "shown": ""})
    layer = LayerFill(evil, evil, "#c8452e", D("2.5"), D("12.19"), (LayerLot(evil, "may", D(0), D(1)),))
    yield render_to_string("drawings/wall_section.svg.html", {"wall": wall_section([layer]), "shown": ""})
    box = container_drawing(
        "silo", filled=D(500), left=D(20), name=evil, shares=[Share(evil, "may", D(0), D(1))]
    )
    yield render_to_string("drawings/container.svg.html", {"box": box, "shown": ""})


def test_drawings_escape_every_word_and_carry_no_style() -> None:
    for svg in rendered():
        root = ElementTree.fromstring(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))  # noqa: S314
        assert {e.tag for e in root.iter()} <= {
            SVG + t for t in ("svg", "g", "path", "rect", "circle", "text")
        }
        assert not any(a == "style" or a.startswith("on") for e in root.iter() for a in e.attrib)
        assert root.attrib["aria-label"]
        assert "<script" not in svg


def test_a_time_line_draws_what_is_known_and_nothing_else() -> None:
    rows = [
        TimeRow("1", date(2026, 4, 12), date(2026, 4, 20), date(2026, 5, 30), date(2026, 6, 2)),
        TimeRow("2", date(2026, 4, 12), failed=date(2026, 6, 1)),
        TimeRow("3"),
    ]
    line = time_line(rows, width=1000.0)
    kinds = Counter(one.kind for one in line.lines)
    assert kinds == {
        "time-month": 4, "time-made": 2, "time-sold": 1, "time-failed": 2, "time-told": 1, "time-stock": 1,
        "time-use": 1, "rule": 1,
    }  # fmt: skip
    # Days stand in proportion: 20 April is 19 of the 91 days from 1 April to 1 July.
    [use] = [one.d for one in line.lines if one.kind == "time-use"]
    assert abs(float(use.split()[0].removeprefix("M")) - (46 + (1000 - 46 - 18) * 19 / 91)) < 0.1
    assert [word.text for word in line.words if word.anchor == "end"] == ["1", "2", "3"]
    assert time_lines([TimeRow("1")]) is None
    # A year's end, and one day alone.
    assert time_line([TimeRow("1", made=date(2026, 12, 31))], width=384.0).height > 0


def _ends(path: str) -> list[float]:
    """Where the strokes of a path begin, and where each ends."""
    strokes = re.findall(r"M([0-9.]+) [0-9.]+h([0-9.]+)", path)
    return [x for begin, wide in strokes for x in (float(begin), float(begin) + float(wide))]


@given(st.lists(st.integers(-1, 2), min_size=1, max_size=60), st.lists(st.integers(-1, 2), min_size=1, max_size=900))
def test_a_strip_has_a_stroke_of_its_own_shape_for_each_hull(bad: list[int], good: list[int]) -> None:
    drawn = strip(bad, good, "<b>")
    every = [*bad, *good]
    for path, there in ((drawn.has, max(every) > 0), (drawn.may, 0 in every), (drawn.lacks, min(every) < 0)):
        assert bool(path) == there
        assert all(0 <= x <= WIDTH + 0.2 for x in _ends(path))
    if max(len(bad), len(good)) <= 15:
        assert [path.count("M") for path in (drawn.has, drawn.may, drawn.lacks)] == [
            sum(one > 0 for one in every), every.count(0), every.count(-1)
        ]
    # The bad end before the good begin, and all of one row stand in the same place in the next.
    assert drawn.feet == strip([-1] * len(bad), [2] * len(good), "").feet
    assert "&lt;b&gt;" in render_to_string("drawings/strip.svg.html", {"strip": drawn})
