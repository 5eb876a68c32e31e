"""A lot that went into thousands: its page tells numbers at once, hulls a page at a time, and counts on in a job."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client

from tests.cast import statements
from tests.pages.story import Told
from trace.genealogy import wide
from trace.genealogy.answer import genealogy
from trace.genealogy.wide import how_far
from trace.models import Job
from trace.readmodels import counting
from trace.sheets.contracts import HullLine, LotSheet
from trace.sheets.lots import gathered, went
from trace.sheets.lots.gathered import gather_lot
from trace.sheets.lots.sheet import lot_sheet
from trace.tasks import carry

LOT = "D-77"


@pytest.fixture
def all_are_wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gathered, "WIDE", 3)
    monkeypatch.setattr(gathered, "HULLS_A_PAGE", 3)
    monkeypatch.setattr(went, "HULLS_A_PAGE", 3)


def test_how_far_is_as_far_as_the_walk_goes(story: Told) -> None:
    whole = genealogy(LOT, "forward")
    far = how_far([whole.root.id])
    assert not far.more
    assert set(far.hulls) == {x.node.id for x in whole.lines if x.node.kind == "hull"}
    assert far.units == len(whole.lines)
    less = how_far([whole.root.id], most=5)
    assert (less.units, less.more) == (5, True)
    before = min(x.node.happened for x in whole.lines if x.node.kind == "hull") - timedelta(seconds=1)
    assert how_far([whole.root.id], before).hulls == ()


@pytest.mark.usefixtures("all_are_wide")
def test_numbers_first_and_hulls_a_page_at_a_time(story: Told, signed_in: Callable[[str], Client]) -> None:
    whole = lot_sheet(gather_lot(LOT))
    assert whole.wide is not None
    assert (whole.wide.hulls, whole.certain, whole.may) == ("8", 0, 0)
    pages = [lot_sheet(gather_lot(LOT, page=n)) for n in (1, 2, 3)]
    groups = [page.views[0].groups[0] for page in pages]
    assert [(len(g.hulls), g.more, bool(g.more_url)) for g in groups] == [(3, 5, True), (3, 2, True), (2, 0, False)]
    assert len({h.serial for g in groups for h in g.hulls}) == 8
    page = signed_in("P-06").get(f"/lot/{LOT}/?page=2")
    assert page.status_code == 200
    assert "a page of hulls at a time" in page.content.decode()


# A silo's lot, one of a box, one that a hull without a record of its foam may hold, one of inserts.
@pytest.mark.parametrize(
    ("lot", "verdicts"), [(LOT, "may"), ("V-2310", "certain"), ("F-118", "certain may"), ("N-0398", "certain")]
)
def test_each_hull_of_a_page_holds_what_the_whole_reckoning_says(
    story: Told, monkeypatch: pytest.MonkeyPatch, lot: str, verdicts: str
) -> None:
    told = {h.serial: (h.verdict, h.least, h.most, h.layers) for h in _hulls(lot_sheet(gather_lot(lot)))}
    assert " ".join(sorted({verdict for verdict, *_ in told.values()})) == verdicts
    for name in ("WIDE", "HULLS_A_PAGE"):
        monkeypatch.setattr(gathered, name, 3)
    monkeypatch.setattr(went, "HULLS_A_PAGE", 3)
    pages = [lot_sheet(gather_lot(lot, page=n)) for n in (1, 2, 3)]
    assert {h.serial: (h.verdict, h.least, h.most, h.layers) for page in pages for h in _hulls(page)} == told
    groups = [page.views[0].groups[0] for page in pages]
    assert sum(g.certain for g in groups) == sum(1 for v, *_ in told.values() if v == "certain")
    # Where not all that lies between was looked at, everything behind them is.
    monkeypatch.setattr(gathered, "how_far", lambda root, at, page: replace(how_far(root, at, page=page), more=True))
    page = lot_sheet(gather_lot(lot))
    assert {h.serial: (h.verdict, h.least, h.most, h.layers) for h in _hulls(page)}.items() <= told.items()
    # With more behind them than is reckoned while somebody waits nothing is claimed of how much is in each.
    monkeypatch.setattr(wide, "MOST_BEHIND", 2)
    page = lot_sheet(gather_lot(lot))
    assert {(h.verdict, h.least, h.most) for h in _hulls(page)} == {("may", Decimal("0.00"), None)}


def _hulls(sheet: LotSheet) -> list[HullLine]:
    return [hull for group in sheet.views[0].groups for hull in group.hulls]


def test_the_balance_is_the_same_in_numbers(story: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = lot_sheet(gather_lot(LOT))
    monkeypatch.setattr(gathered, "WIDE", 3)
    assert lot_sheet(gather_lot(LOT)).balance == whole.balance


@pytest.mark.usefixtures("all_are_wide")
def test_what_goes_further_is_counted_on_in_the_background(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gathered, "how_far", lambda root, at, page: how_far(root, at, most=5, page=page))
    monkeypatch.setattr(counting, "SLICE", 2)
    client = signed_in("P-06")
    first = client.get(f"/lot/{LOT}/").content.decode()
    assert "more than 5" in first and "goes on in the background" in first
    job = Job.objects.get(kind=counting.KIND)
    carry(str(job.id))
    job.refresh_from_db()
    whole = genealogy(LOT, "forward")
    hulls = sum(1 for x in whole.lines if x.node.kind == "hull")
    assert (job.state, job.done, job.args["hulls"]) == ("done", len(whole.lines), hulls)
    then = client.get(f"/lot/{LOT}/").content.decode()
    assert "Counted" in then and "goes on in the background" not in then
    assert Job.objects.filter(kind=counting.KIND).count() == 1


def test_a_count_that_is_through_is_through_whoever_asks_again(story: Told) -> None:
    root = genealogy(LOT, "forward").root
    counting.ask(root.id, root.uid, None)
    job = Job.objects.get(kind=counting.KIND)
    assert (counting.count(job.id), counting.count(job.id)) == (True, True)
    job.refresh_from_db()
    assert job.state == "done"


@pytest.mark.parametrize("wide_from", [3, 5_000], ids=["in numbers", "whole"])
def test_no_page_counts_all_hulls(story: Told, monkeypatch: pytest.MonkeyPatch, wide_from: int) -> None:
    monkeypatch.setattr(gathered, "WIDE", wide_from)
    sent = statements(lambda: lot_sheet(gather_lot(LOT)))
    assert sent != [] and [sql for sql in sent if "count(*) FROM unit" in sql] == []
    assert wide.MOST == 150_000
