"""EPCIS events held against GS1's published schema and examples, where they lie beside the project.

The schema, its examples and its vocabularies: GS1's EPCIS repository (2.0, schema of 2022-07-13; "AS IS", no copy of it
is kept here). What the schema lets pass and the standard does not is asked of our own check.
"""

import copy
import io
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from stdnum import ean

from plant.kinds.settings import BY_KEY
from tests.exports.conftest import MakePaper
from tests.pages.story import Told
from trace.exports.asked import PaperError
from trace.exports.epcis.document import CONTEXT, OWN_CONTEXT, document, faults, text, write_epcis
from trace.exports.epcis.events import Teller, names_of
from trace.exports.epcis.names import Company, escaped
from trace.exports.paper import Paper
from trace.recording.acts.setup import Define
from trace.sheets.hulls.gathered import gather

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "standards" / "epcis"
there = pytest.mark.skipif(not FOLDER.is_dir(), reason="GS1's files are not beside the project")
sgtin, lgtin = Company().sgtin, Company().lgtin
LOT = lgtin(1, "A")
CREATED = datetime(2026, 12, 3, tzinfo=UTC)
GOOD: dict[str, Any] = {
    "type": "TransformationEvent", "eventID": "urn:uuid:0198f3c2-5b1a-7c3e-8d2f-3a4b5c6d7e8f",
    "eventTime": "2026-03-02T14:41:07.250+01:00", "eventTimeZoneOffset": "+01:00",
    "inputQuantityList": [{"epcClass": lgtin(12, "V-2288"), "quantity": 12.24, "uom": "KGM"}],
    "outputEPCList": [sgtin(7, "GHM-T430-004425")], "bizStep": "commissioning", "disposition": "in_progress",
}  # fmt: skip
OBSERVED: dict[str, Any] = {
    "type": "ObjectEvent", "action": "OBSERVE", "eventTime": "2026-03-02T14:41:07Z", "eventTimeZoneOffset": "+00:00",
    "epcList": [sgtin(7, "A1")], "bizStep": "inspecting", "disposition": "conformant",
}  # fmt: skip
PACKED: dict[str, Any] = {
    "type": "AggregationEvent", "action": "ADD", "eventTime": "2026-03-02T14:41:07Z", "eventTimeZoneOffset": "+00:00",
    "parentID": "urn:epc:id:sscc:9521234.0000000077", "childEPCs": [sgtin(7, "A1")], "bizStep": "packing",
}  # fmt: skip


@pytest.fixture(scope="module")
def schema() -> jsonschema.Draft7Validator:
    """The published schema with its formats on: without them a dozen wrong documents pass."""
    checker = jsonschema.Draft7Validator.FORMAT_CHECKER
    assert {"uri", "date-time"} <= checker.checkers.keys(), "rfc3986-validator and rfc3339-validator are needed"
    assert not checker.conforms("moulding", "uri")
    assert not checker.conforms("2026-03-02T14:41:07", "date-time")
    read = json.loads((FOLDER / "EPCIS-JSON-Schema.json").read_text())
    return jsonschema.Draft7Validator(read, format_checker=checker)


def of(*events: dict[str, Any]) -> dict[str, Any]:
    return document(events, CREATED)


def changed(event: dict[str, Any], **parts: Any) -> dict[str, Any]:
    """The event with these parts, without those that are None."""
    whole = {**copy.deepcopy(event), **parts}
    return {name: value for name, value in whole.items() if value is not None}


@there
@pytest.mark.outside("published", "GS1 EPCIS 2.0 JSON schema and its examples (github gs1/EPCIS)")
def test_every_published_example_is_valid(schema: jsonschema.Draft7Validator) -> None:
    read = sorted((FOLDER / "examples").glob("*.jsonld"))
    assert len(read) >= 20
    for path in [*read, FOLDER / "handwritten_transformation.json"]:
        assert not list(schema.iter_errors(json.loads(path.read_text()))), path.name


@there
@pytest.mark.outside("published", "GS1 EPCIS 2.0 JSON schema; examples that do not fit it")
def test_every_published_wrong_example_is_refused(schema: jsonschema.Draft7Validator) -> None:
    read = sorted((FOLDER / "negative").glob("*.jsonld"))
    assert read
    for path in read:
        assert list(schema.iter_errors(json.loads(path.read_text()))), path.name


# The published schema refuses each of these (some only with its formats switched on).
REFUSED: dict[str, dict[str, Any]] = {
    "a step of our own as a bare word": changed(GOOD, bizStep="moulding"),
    "a misspelt property": changed(GOOD, bizStepp="commissioning"),
    "an action on a transformation": changed(GOOD, action="ADD"),
    "a time without an offset": changed(GOOD, eventTime="2026-03-02T14:41:07.250"),
    "a day for a time": changed(GOOD, eventTime="2026-03-02"),
    "a class that is no URI": changed(GOOD, inputQuantityList=[{"epcClass": "red", "quantity": 1, "uom": "KGM"}]),
    "a bare key of master data": changed(GOOD, ilmd={"mould": "T430-01"}),
    "master data of an aggregation": changed(PACKED, ilmd={"lotwright:mould": "T430-01"}),
    "a lasting disposition of an aggregation": changed(PACKED, persistentDisposition={"set": ["recalled"]}),
    "an unknown kind of event": changed(GOOD, type="MouldingEvent"),
    "an unknown reason": changed(
        GOOD, errorDeclaration={"declarationTime": "2026-03-02T14:41:07Z", "reason": "wrong_box"}
    ),
    "an amount as text": changed(GOOD, inputQuantityList=[{"epcClass": LOT, "quantity": "1.5", "uom": "KGM"}]),
    "kg for KGM": changed(GOOD, inputQuantityList=[{"epcClass": lgtin(1, "A"), "quantity": 1.5, "uom": "kg"}]),
    "Z for an offset": changed(GOOD, eventTimeZoneOffset="Z"),
    "an offset that no place has": changed(GOOD, eventTimeZoneOffset="+14:30"),
    "a key of our own in an amount": changed(
        GOOD, inputQuantityList=[{"epcClass": lgtin(1, "A"), "quantity": 1, "uom": "KGM", "lotwright:x": "y"}]
    ),
    "the same EPC twice": changed(OBSERVED, epcList=[sgtin(7, "A1"), sgtin(7, "A1")]),
    "master data of what is only seen": changed(OBSERVED, ilmd={"lotwright:mould": "T430-01"}),
    "a step by its old URN": changed(GOOD, bizStep="urn:epcglobal:cbv:bizstep:commissioning"),
    "a lasting disposition of nothing": changed(OBSERVED, persistentDisposition={}),
    "a report that says not of what": changed(OBSERVED, sensorElementList=[{"sensorReport": [{"value": 1}]}]),
    "a transformation of one side only": changed(GOOD, outputEPCList=None),
}


@there
@pytest.mark.parametrize("wrong", REFUSED)
@pytest.mark.outside("library", "jsonschema with RFC 3986 and RFC 3339 checkers, over GS1's schema")
def test_the_schema_refuses(schema: jsonschema.Draft7Validator, wrong: str) -> None:
    assert list(schema.iter_errors(of(REFUSED[wrong])))


@there
@pytest.mark.parametrize(
    "right",
    [
        GOOD, OBSERVED, PACKED, changed(GOOD, eventTimeZoneOffset="+14:00"),
        changed(GOOD, outputEPCList=None, transformationID="urn:uuid:0198f3c2-5b1a-7c3e-8d2f-3a4b5c6d7e8f"),
        changed(GOOD, bizStep="https://ref.gs1.org/cbv/BizStep-commissioning"),
    ],
)  # fmt: skip
def test_the_schema_takes(schema: jsonschema.Draft7Validator, right: dict[str, Any]) -> None:
    assert not list(schema.iter_errors(of(right)))


@there
def test_of_the_document_the_schema_asks(schema: jsonschema.Draft7Validator) -> None:
    whole = of(GOOD)
    for part in ("creationDate", "schemaVersion", "@context"):
        assert list(schema.iter_errors({name: value for name, value in whole.items() if name != part})), part
    assert list(schema.iter_errors({**whole, "schemaVersion": 2.0}))
    assert list(schema.iter_errors({**whole, "remark": "x"}))
    # A bare event is a document too, and then needs the context itself.
    assert list(schema.iter_errors(GOOD))


# What the schema takes though the standard does not: our own check says it.
LET_PASS: dict[str, tuple[dict[str, Any], str]] = {
    "less than nothing": (
        changed(GOOD, inputQuantityList=[{"epcClass": LOT, "quantity": -1, "uom": "KGM"}]), "has the amount -1",
    ),
    "a unit of no amount": (changed(GOOD, inputQuantityList=[{"epcClass": lgtin(1, "A"), "uom": "KGM"}]), "no amount"),
    "an EPC that is none": (
        changed(GOOD, inputQuantityList=[{"epcClass": "urn:epc:class:lgtin:garbage"}]), "no EPC of its kind",
    ),
    "another offset than the time's": (changed(GOOD, eventTimeZoneOffset="+02:00"), "not that of eventTime"),
    "an aggregation under nothing": (changed(PACKED, parentID=None), "needs its parent"),
    "an object event of nothing": (changed(OBSERVED, epcList=[]), "names nothing"),
}  # fmt: skip


@pytest.mark.parametrize("wrong", LET_PASS)
def test_what_the_schema_lets_pass_is_refused_here(wrong: str) -> None:
    event, words = LET_PASS[wrong]
    assert any(words in said for said in faults(event)), list(faults(event))


def test_what_is_right_has_no_fault() -> None:
    assert [list(faults(event)) for event in (GOOD, OBSERVED, PACKED)] == [[], [], []]


def written(paper: Paper) -> bytes:
    out = io.BytesIO()
    write_epcis(paper, out, lambda: None)
    return out.getvalue()


def events_of(data: bytes) -> list[dict[str, Any]]:
    events: list[dict[str, Any]] = json.loads(data, parse_float=Decimal)["epcisBody"]["eventList"]
    return events


@pytest.fixture
def told(story: Told, paper_of: MakePaper) -> Callable[[str], list[dict[str, Any]]]:
    return lambda name: events_of(written(paper_of("hull", number=story.hulls[name])))


@there
@pytest.mark.parametrize("hull", ["bag change", "held", "gone", "no foam"])
@pytest.mark.outside("published", "GS1 EPCIS 2.0 JSON schema, with formats asserted")
def test_the_events_of_a_hull_are_valid(
    story: Told, paper_of: MakePaper, schema: jsonschema.Draft7Validator, hull: str
) -> None:
    data = written(paper_of("hull", number=story.hulls[hull]))
    assert [error.message for error in schema.iter_errors(json.loads(data))] == []


@there
@pytest.mark.outside("published", "GS1 EPCIS 2.0 JSON schema, with formats asserted")
def test_the_events_of_a_scope_are_valid_and_each_is_told_once(
    story: Told, paper_of: MakePaper, schema: jsonschema.Draft7Validator
) -> None:
    data = written(paper_of("scope", q="holds=N-0417"))
    assert [error.message for error in schema.iter_errors(json.loads(data))] == []
    names = [(event["eventID"], "errorDeclaration" in event) for event in events_of(data)]
    assert len(names) == len(set(names))


@pytest.mark.outside("identity", "kilograms told to others are those of the paper")
def test_what_went_in_weighs_what_the_paper_says(
    story: Told, paper_of: MakePaper, told: Callable[[str], list[dict[str, Any]]]
) -> None:
    """The charges into the load, re-added from the events, are those of the paper's layers."""
    loaded = [event for event in told("bag change") if event["bizStep"].endswith("step:loading")]
    masses = [one["quantity"] for event in loaded for one in event["inputQuantityList"] if one.get("uom") == "KGM"]
    layers = next(t for t in paper_of("hull", number=story.hulls["bag change"]).tables() if t.name == "layers")
    said = {row[0]: row[2] for row in layers.rows}
    assert sum(masses) == sum(said.values())  # type: ignore[arg-type]
    assert len({event["transformationID"] for event in loaded}) == 1


def steps(events: list[dict[str, Any]]) -> list[str]:
    return [str(event["bizStep"]).removeprefix("urn:lotwright:step:") for event in events]


def test_a_hull_s_way_is_told_by_the_standard_s_steps(told: Callable[[str], list[dict[str, Any]]]) -> None:
    events = told("gone")
    found = steps(events)
    wanted = {"receiving", "draw", "loading", "sensor_reporting", "commissioning", "inspecting", "packing", "shipping"}
    assert wanted <= set(found)
    born = next(event for event in events if event["bizStep"] == "commissioning")
    assert born["outputEPCList"][0].startswith("urn:epc:id:sgtin:9521234.")
    assert born["ilmd"]["lotwright:mould"]
    loaded = next(event for event in events if event["bizStep"].endswith("loading"))
    assert born["transformationID"] == loaded["transformationID"]
    packed = next(event for event in events if event["bizStep"] == "packing")
    assert born["outputEPCList"][0] in packed["childEPCs"]
    sent = next(event for event in events if event["bizStep"] == "shipping")
    assert sent["epcList"] == [packed["parentID"]]
    assert sent["destinationList"][0]["type"] == "possessing_party"
    assert "Wharfe" not in json.dumps(events, default=str)


def test_a_hold_is_set_and_a_correction_declared(told: Callable[[str], list[dict[str, Any]]]) -> None:
    held = [event for event in told("held") if event.get("persistentDisposition")]
    assert {json.dumps(event["persistentDisposition"]) for event in held} == {'{"set": ["non_sellable_other"]}'}
    wrong = [event for event in told("gone") if "errorDeclaration" in event]
    assert wrong
    for event in wrong:
        assert event["errorDeclaration"]["reason"] == "incorrect_data"
        assert event["eventID"] not in event["errorDeclaration"].get("correctiveEventIDs", ())


def test_numbers_are_written_plain() -> None:
    assert text({"a": Decimal("0.00001"), "b": [Decimal("1E+3")], "c": "é"}) == '{"a":0.00001,"b":[1000],"c":"é"}'
    assert json.loads(text({"q": Decimal("118.400")}), parse_float=Decimal) == {"q": Decimal("118.400")}


def test_no_term_of_the_standard_s_context_is_taken() -> None:
    """The context is protected: a JSON-LD processor refuses a document that says one of its terms anew."""
    if FOLDER.is_dir():
        terms = json.loads((FOLDER / "epcis-context.jsonld").read_text())["@context"]
        assert not set(OWN_CONTEXT) & set(terms)
    assert of(GOOD)["@context"] == [CONTEXT, OWN_CONTEXT]


def test_what_has_a_meaning_in_a_urn_is_escaped() -> None:
    assert escaped('A/B%1"2&3<4>5?6') == "A%2FB%251%222%263%3C4%3E5%3F6"
    assert escaped("V-2288_a.b") == "V-2288_a.b"


def test_of_a_lot_there_are_no_events(story: Told, paper_of: MakePaper) -> None:
    with pytest.raises(PaperError, match="take a hull or a scope"):
        written(paper_of("lot", number="N-0417"))
    with pytest.raises(PaperError, match="Nothing of this"):
        paper = paper_of("hull", number=story.hulls["sled"])
        object.__setattr__(paper, "events", _none)
        written(paper)


def _none() -> Iterator[dict[str, Any]]:
    yield from ()


@pytest.mark.outside("published", "EPC URNs beside GS1 keys: vectors of github RalphTro/epcis-event-hash-generator")
def test_names_and_check_digits_are_those_published() -> None:
    plant = Company("4012345")
    assert plant.lgtin(12345, "998877") == "urn:epc:class:lgtin:4012345.012345.998877"
    assert plant.gtin(12345) == "04012345123456"
    assert plant.sscc(333) == "urn:epc:id:sscc:4012345.0000000333"
    assert plant.sscc_18(333) == "040123450000003338"
    assert plant.pgln(0) == "urn:epc:id:pgln:4012345.00000"


@pytest.mark.parametrize("length", range(4, 13))
@pytest.mark.outside("library", "python-stdnum checks every GTIN and SSCC that is told")
def test_a_prefix_of_any_length_gives_keys_with_their_check_digit(length: int) -> None:
    plant = Company("952123456789"[:length])
    room = 12 - max(6, length)
    for number in (0, 7, 10**room - 1, 10**room):
        named = [plant.sgtin(number, "A/1"), plant.lgtin(number, "B"), plant.pgln(number)]
        assert list(map(bool, named)) == [room > 0 and number < 10**room] * 3
        assert [fault for name in named for fault in faults(changed(OBSERVED, epcList=[name] if name else None,
            quantityList=[{"epcClass": LOT}]))] == []  # fmt: skip
        if named[0]:
            assert ean.is_valid(plant.gtin(number)) and plant.gtin(number).startswith("0" + plant.prefix)
    assert plant.sscc(10 ** (16 - max(6, length))) == ""
    assert checked(plant.sscc_18(77)) and list(faults(changed(PACKED, parentID=plant.sscc(77)))) == []
    assert list(faults(changed(OBSERVED, bizLocation={"id": plant.place("R4-2")}))) == []
    assert list(BY_KEY["gs1-prefix"].shape.faults("value", plant.prefix)) == []


def test_the_plant_s_own_prefix_names_its_hulls_and_is_checked(
    story: Told, paper_of: MakePaper, told: Callable[[str], list[dict[str, Any]]]
) -> None:
    before = told("gone")
    shape = BY_KEY["gs1-prefix"].shape
    assert all(list(shape.faults("value", wrong)) for wrong in ("952", "9521234567890", "95 21", 9521))
    story.plant.scan(Define(kind="setting", key="gs1-prefix", body={"value": "40123"}), person="P-09")
    after = told("gone")
    [one, other] = (next(e for e in events if e["bizStep"] == "commissioning") for events in (before, after))
    assert one["outputEPCList"][0].replace("9521234.0", "401230.00") == other["outputEPCList"][0]
    assert ean.is_valid(other["ilmd"]["lotwright:gtin"])
    assert checked(next(e for e in after if e["bizStep"] == "packing")["lotwright:sscc"])


@there
@pytest.mark.outside("published", "GS1 EPCIS 2.0 JSON schema, with formats asserted")
def test_fittings_regrind_and_a_recall_are_told_in_the_standard_s_terms(
    story: Told, schema: jsonschema.Draft7Validator
) -> None:
    """No act of the plant records fittings or grinding yet: the ways are those that its records can hold."""
    gathered = gather(story.hulls["gone"], None)
    lot = next(node.uid for node in gathered.of_kind("lot"))
    hull = gathered.hull.uid
    now = gathered.entries[-1]

    def told_of(kind: str, *edges: tuple[str, str, str, int | None, str | None]) -> dict[str, Any]:
        rows = [dict(zip(("parent", "child", "role", "amount", "uom"), edge, strict=True)) for edge in edges]
        touches = [{"unit": hull, "role": "recalled"}]
        body = {**now.body, "says": {}, "rows": {"edges": rows, "touches": touches}}
        [event] = Teller(gathered, names_of(gathered)).events(replace(now, kind=kind, body=body))
        assert [*faults(event), *(error.message for error in schema.iter_errors(plain(of(event))))] == []
        return event

    fitted = told_of("fitted", (lot, hull, "fit", 4, "pc"))
    assert (fitted["type"], fitted["bizStep"], fitted["parentID"]) == (
        "AssociationEvent", "installing", names_of(gathered).of(hull),
    )  # fmt: skip
    ground = told_of("ground", (hull, lot, "regrind", 20_000_000, "mg"))
    assert (ground["inputEPCList"], ground["outputQuantityList"][0]["quantity"]) == ([fitted["parentID"]], Decimal(20))
    assert told_of("recall_begun")["disposition"] == "recalled"


def checked(sscc: str) -> bool:
    return len(sscc) == 18 and ean.calc_check_digit(sscc[:-1]) == sscc[-1]


def plain(event: dict[str, Any]) -> Any:
    return json.loads(text(event))


@there
@pytest.mark.outside("published", "GS1 EPCIS 2.0: every EPC of the published examples (github gs1/EPCIS)")
def test_the_names_of_the_published_examples_are_epcs() -> None:
    """Those of the kinds that a plant tells; the examples hold others besides."""
    text_of_all = " ".join(path.read_text() for path in sorted((FOLDER / "examples").glob("*.jsonld")))
    names = set(re.findall(r'"(urn:epc:(?:id|class):(?:sgtin|lgtin|sscc|sgln|pgln):[^"*]+)"', text_of_all))
    assert len(names) > 15
    for name in sorted(names):
        assert list(faults(changed(OBSERVED, epcList=[name]))) == [], name
