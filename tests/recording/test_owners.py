"""Who owns a hull is registered, taken back and erased; a scope knows where owners are; the bytes hold no name."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.management import call_command

from tests.cast import LEAD, PACKER, QUALITY, SO_RED, STORES, Cast, plate, rows_of
from tests.schema.bytes import assert_bytes_hold_no_words
from trace.codes.region import lies_in, region_code
from trace.genealogy.causes import CauseError, read_cause
from trace.genealogy.owners import Owner, owner_now, owners
from trace.genealogy.shared_documents import as_json
from trace.genealogy.sharing import shared_by
from trace.readmodels.rebuild import differences
from trace.recording.acts.opening import OldHull
from trace.recording.acts.owners import RegisterOwner, WithdrawOwner
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.answers import Answer

BUYER = {"owner": "Wilf Heron", "contact": "wilf@example.org"}


def old(cast: Cast, *serials: str) -> None:
    """Hulls made before records: nobody recorded where they are."""
    for serial in serials:
        cast.scan(OldHull(serial=serial, product="T430"), person=STORES)


def registered(cast: Cast, hull: str, expect: str = "", **fields: Any) -> Answer:
    return cast.scan(RegisterOwner(**{"hull": hull, **BUYER, **fields}), person=LEAD, expect=expect)


def told(hull: str) -> list[Owner]:
    [(unit,)] = rows_of("SELECT hull FROM serial_state WHERE text = %s", hull)
    return owners([unit]).get(unit, [])


def with_owner(cause: str) -> dict[str, str]:
    """Plate -> verdict and why."""
    answer = shared_by(read_cause(cause.split()))
    return {line.node.code: f"{line.verdict}: {line.why}" for line in answer.lines}


@pytest.mark.outside("published", "ISO 3166-2: two letters, a hyphen, one to three letters or digits; from memory")
@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("gb-sct", "GB-SCT"), (" NO-46 ", "NO-46"), ("US-ME", "US-ME"), ("FR-29", "FR-29"), ("GB", "GB"),
        ("GBR", None), ("GB-", None), ("GB-SCOT", None), ("G1-SCT", None), ("ＧＢ", None), ("", None),
    ],
)  # fmt: skip
def test_what_can_be_a_region(typed: str, code: str | None) -> None:
    assert region_code(typed) == code


@pytest.mark.parametrize(
    ("code", "wanted", "lies"),
    [
        ("GB-SCT", "GB", True), ("GB-SCT", "GB-SCT", True), ("GB-SCT", "GB-WLS", False), ("GB-SCT", "NO", False),
        ("GB", "GB-SCT", None), ("GB", "NO-46", False), ("", "GB", None), ("GB", "G", False),
    ],
)  # fmt: skip
def test_where_a_region_lies(code: str, wanted: str, lies: bool | None) -> None:
    assert lies_in(code, wanted) is lies


def test_a_hull_is_sold_for_the_first_time_once_and_a_wrong_registration_is_taken_back(cast: Cast) -> None:
    old(cast, "OLD-1", "OLD-2")
    registered(cast, "OLD-1", sold="2026-05-02", region="GB-SCT", use="hire")
    assert registered(cast, "OLD-1", "OWNER-THERE").outcome == "refused"
    registered(cast, "OLD-1", owner_is="later", region="NO-46")
    first, later = told("OLD-1")
    assert (first.first, first.sold, first.region, first.use) == (True, "2026-05-02", "GB-SCT", "hire")
    assert owner_now([first, later]) == later and owner_now([later, first]) == later
    back = WithdrawOwner(hull="OLD-1", registration=first.uid)
    assert cast.scan(back, person=QUALITY, expect="REASON-MISSING").outcome == "refused"
    other = WithdrawOwner(hull="OLD-2", registration=first.uid, reason="another hull")
    assert cast.scan(other, person=QUALITY, expect="OWNER-GONE").outcome == "refused"
    cast.scan(WithdrawOwner(hull="OLD-1", registration=first.uid, reason="a misread plate"), person=QUALITY)
    assert told("OLD-1") == [later]
    registered(cast, "OLD-1", sold="2026-05-03")
    assert [one.sold for one in told("OLD-1")] == ["", "2026-05-03"]
    assert differences() == []


@pytest.mark.parametrize(
    ("fields", "code", "outcome"),
    [
        ({"owner_is": "second"}, "OWNER-UNSAID", "refused"), ({"sold": "last May"}, "OWNER-DAY", "refused"),
        ({"sold": "2026-02-30"}, "OWNER-DAY", "refused"), ({"sold": "2026-07-01"}, "OWNER-DAY", "refused"),
        ({"region": "Scotland"}, "OWNER-REGION", "refused"), ({"region": "gb"}, "OWNER-REGION", "refused"),
        ({"use": "fun"}, "OWNER-USE", "refused"), ({"contact": ""}, "OWNER-NOBODY", "warned"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said(cast: Cast, fields: dict[str, str], code: str, outcome: str) -> None:
    old(cast, "OLD-1")
    assert registered(cast, "OLD-1", code, **fields).outcome == outcome
    assert bool(told("OLD-1")) == (outcome == "warned")


def test_where_owners_are_is_a_cause_and_a_column(cast: Cast) -> None:
    """One whose owner is not known may be anywhere; one in the plant has no owner yet; a country holds its parts."""
    cast.hull(plate(1))
    cast.hull(plate(2))
    [pack] = cast.scan(Pack(order=SO_RED, hulls=(plate(2),)), person=PACKER).made["codes"]
    cast.scan(Dispatch(order=SO_RED, packs=(pack,), consignee="WHARFE", vehicle="PA 1"), person=PACKER)
    assert registered(cast, plate(1), "OWNER-NOT-SENT", region="GB").outcome == "warned"
    old(cast, "OLD-1", "OLD-2", "OLD-3")  # opening stock, in the plant
    registered(cast, "OLD-1", region="GB-SCT", use="hire")
    registered(cast, "OLD-1", region="NO-46", owner_is="later")
    registered(cast, "OLD-2", region="")
    assert with_owner("region=no") == {
        plate(1): "cannot: its owner’s region is GB", plate(2): "may: no owner is registered",
        "OLD-1": "certain: its owner’s region is NO-46", "OLD-2": "may: its owner’s region is not known",
        "OLD-3": "cannot: it has not left the plant",
    }  # fmt: skip
    assert with_owner("not region=GB-SCT")[plate(1)].startswith("may")
    assert with_owner("use=hire")["OLD-1"] == "may: its owner’s use is not known"
    [back] = told(plate(1))
    cast.scan(WithdrawOwner(hull=plate(1), registration=back.uid, reason="misread"), person=QUALITY)
    assert with_owner("region=GB")[plate(1)] == "cannot: it has not left the plant"
    with pytest.raises(CauseError, match="no region"):
        shared_by(read_cause(["region=Scotland"]))
    shown = as_json(shared_by(read_cause(["model=T430"])))["hulls"]
    assert {one["code"]: one["region"] for one in shown}["OLD-1"] == "NO-46"
    # Who took a registration has not worked on the hull.
    assert with_owner("person=P-03")["OLD-1"].startswith("may")


def test_a_name_is_never_in_the_bytes_and_is_erased_for_ever(cast: Cast) -> None:
    old(cast, "OLD-1")
    registered(cast, "OLD-1", region="GB")
    [(body,)] = rows_of("SELECT body FROM event WHERE kind = 'owner_registered'")
    assert_bytes_hold_no_words(body, BUYER.values())
    [one] = told("OLD-1")
    texts = "SELECT text FROM note WHERE digest = ANY (%s) ORDER BY 1"
    assert rows_of(texts, [one.owner, one.contact]) == [("Wilf Heron",), ("wilf@example.org",)]
    cast.scan(WithdrawOwner(hull="OLD-1", registration=one.uid, reason="wrong"), person=QUALITY)
    # Also of a registration that was taken back.
    call_command("erase_note", "--owners-of", "OLD-1", "--by", "P-06", "--why", "the owner asked")
    assert rows_of(texts, [one.owner, one.contact]) == [(None,), (None,)]
