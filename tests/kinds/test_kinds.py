"""Each kind of plant data is said once: what is declared is reached everywhere, and what is used is declared."""

import ast
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from django.apps import apps
from django.urls import reverse

from plant.access import RIGHTS, SETUP_RIGHTS, STATION_ROLES, PerPart
from plant.kinds import described
from plant.kinds.equipment import stations
from plant.kinds.faults import Fault
from plant.kinds.judge import faults
from plant.kinds.kind import boxed
from plant.kinds.people import TASKS
from plant.kinds.settings import RULE, SETTINGS, VERDICTS
from plant.kinds.table import BY_NAME, KINDS, PLANT_TABLES
from plant.models.recorded import Recorded
from tests.access import table
from trace.demo import plant as invented
from trace.pages.home import _desk
from trace.recording.commands import HANDLERS
from trace.recording.rules import engine

ROOT = Path(__file__).resolve().parents[2]
DEVELOPERS = ROOT / "DEVELOPERS.md"


@dataclass(frozen=True)
class One:
    key: str
    body: dict[str, Any]
    ended: bool = False


@dataclass
class All:
    """The things of an imagined plant, with nothing behind it."""

    things: dict[tuple[str, str], One] = field(default_factory=dict)

    def put(self, kind: str, key: str, body: dict[str, Any], *, ended: bool = False) -> None:
        self.things[(kind, key)] = One(key, body, ended)

    def get(self, kind: str, key: str | None) -> One | None:
        return self.things.get((kind, key or ""))

    def of_kind(self, kind: str) -> list[One]:
        return [one for (k, _key), one in self.things.items() if k == kind]


@pytest.fixture
def plant() -> All:
    """The invented plant, as it would stand."""
    found = All()
    for kind, key, _name, body in invented.things():
        found.put(kind, key, body)
    return found


def said(found: list[Fault]) -> str:
    return " ".join(map(str, found))


# What is declared is reached, and what is used is declared.


def test_each_kind_has_its_table_and_each_table_its_kind() -> None:
    tables = {m._meta.db_table for m in apps.get_app_config("plant").get_models() if issubclass(m, Recorded)}
    assert set(PLANT_TABLES.values()) == tables


def test_each_kind_has_its_rights_its_pages_and_its_lines() -> None:
    for name in ("setup", "api_plant_data"):
        row = RIGHTS[name]
        assert isinstance(row, PerPart) and set(row.each) == set(BY_NAME)
    lines = dict(_desk(demo=False))["Plant data"]
    assert [parts["kind"] for name, parts, _w, _l in lines if name == "setup"] == list(BY_NAME)
    told = {line.path for line in table.read()}
    for kind in BY_NAME:
        assert {reverse("setup", args=[kind]), reverse("api_plant_data", args=[kind])} <= told
        right = SETUP_RIGHTS[kind]
        assert right.get == (right.post or frozenset()) | {"auditor"}


def test_each_kind_has_a_form_or_an_example_for_its_text() -> None:
    for kind in KINDS:
        assert kind.by_boxes or kind.example, kind.name
    assert {kind.name for kind in KINDS if not kind.by_boxes} == {"product", "material", "setting"}
    assert not boxed(BY_NAME["product"].shape)


def test_each_kind_the_demo_plant_uses_is_declared_and_each_field_of_it() -> None:
    used = {kind for kind, *_rest in invented.things()}
    assert used <= set(BY_NAME)
    # The demo has no tablet and switches nothing.
    assert set(BY_NAME) - used == {"device", "setting"}


def calls(*names: str) -> Iterator[tuple[str, ast.Call]]:
    """Every call of a method of these names in the product."""
    for path in (*ROOT.glob("trace/**/*.py"), *ROOT.glob("plant/**/*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute | ast.Name):
                name = node.func.attr if isinstance(node.func, ast.Attribute) else node.func.id
                if name in names:
                    yield name, node


def test_each_kind_that_is_asked_for_is_declared() -> None:
    asked = set()
    for _name, call in calls("get", "body", "of_kind"):
        owner = ast.unparse(call.func.value) if isinstance(call.func, ast.Attribute) else ""
        of_plant = owner.split(".")[-1] in ("plant", "newest()", "directory", "others", "today")
        if of_plant and call.args and isinstance(call.args[0], ast.Constant):
            asked.add(call.args[0].value)
    assert len(asked) > 7, "the calls are found"
    assert asked <= set(BY_NAME)


def patterns() -> set[str]:
    """The keys of settings that the product reads, as regular expressions."""
    found = set()
    for _name, call in calls("setting", "_setting"):
        key = call.args[0] if call.args else None
        if isinstance(key, ast.Constant):
            found.add(re.escape(str(key.value)))
        elif isinstance(key, ast.JoinedStr):
            parts = (re.escape(str(x.value)) if isinstance(x, ast.Constant) else ".+" for x in key.values)
            found.add("".join(parts))
    return found


def test_each_setting_that_is_read_is_declared_and_each_declared_is_read() -> None:
    keys, read = {one.key for one in SETTINGS}, patterns()
    assert [p for p in read if not any(re.fullmatch(p, key) for key in keys)] == []
    assert [key for key in keys if not any(re.fullmatch(p, key) for p in read)] == []


def test_words_said_elsewhere_too_are_the_same_there() -> None:
    assert VERDICTS == engine.VERDICTS
    assert set(TASKS) == {command.TASK for command in HANDLERS if command.TASK}
    import trace.urls

    assert trace.urls.urlpatterns and stations() == tuple(STATION_ROLES) != ()


def test_the_table_of_the_developers_is_the_declaration() -> None:
    """Written anew by: WRITE_PLANT_DATA=1 pytest tests/kinds (then read what changed)."""
    text = DEVELOPERS.read_text(encoding="utf-8")
    before, _head, rest = text.partition("| kind | changed by | body |\n")
    after = rest[rest.index("\n\n") + 1 :] if "\n\n" in rest else ""
    new = before + described.markdown() + after
    if os.environ.get("WRITE_PLANT_DATA"):
        DEVELOPERS.write_text(new, encoding="utf-8")
    assert text == new


def test_the_schema_takes_what_the_judge_takes(plant: All) -> None:
    """Held against JSON Schema itself, by a library that knows nothing of this plant."""
    for kind, key, _name, body in invented.things():
        # What is left out may stand there as null ("nullable", which is OpenAPI's own word).
        jsonschema.validate({k: v for k, v in body.items() if v is not None}, BY_NAME[kind].schema())
        assert faults(kind, key, body, plant) == []
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"name": "X"}, BY_NAME["place"].schema())


# All that is wrong is said at once.


def test_references_that_lead_nowhere_are_all_said_at_once(plant: All) -> None:
    body = invented.products()["T430"]
    body["layers"][0]["material"] = "LL-99 {colour}"
    body["layers"][1]["material"] = "M8-N"
    body["inserts"] = {**body["inserts"], "S1": "M9-X"}
    body["graphics"] = {**body["graphics"], "PORT": {"artwork": "TAMSIN-SIDE", "revision": "Z"}}
    body["cook"] = {**body["cook"], "ovens": ["OVEN-9"]}
    found = faults("product", "T430", body, plant)
    text = said(found)
    assert all(f.what and f.why and f.now for f in found)
    for colour in body["colours"]:
        assert f"“layers 1 material” names LL-99 {colour}, and there is no material LL-99 {colour}." in text
    assert "“layers 2 material” names M8-N, and that is no powder or foam. Its kind is insert." in text
    assert "“inserts S1” names M9-X, and there is no material M9-X." in text
    assert "“graphics PORT” is TAMSIN-SIDE revision Z, and no material is that." in text
    assert "“cook ovens” names OVEN-9" in text


def test_a_mould_goes_on_arms_that_are_there(plant: All) -> None:
    body = {"products": ["T430", "T999"], "arms": ["S1", "OVEN-2", "S9"], "state": "in service", "logger": "W-3"}
    text = said(faults("mould", "T430-09", body, plant))
    assert "there is no product T999" in text and "there is no machine S9" in text
    assert "“arms” names OVEN-2, and that is no arm. Its kind is oven." in text
    assert "“logger” names W-3, and that is no logger." in text


def test_two_moulds_cannot_stand_on_one_position_of_one_arm(plant: All) -> None:
    first = {**invented.MOULDS["B60-01"], "state": "in service", "mounted": {"A1": "1"}}
    plant.put("mould", "B60-01", first)
    second = {**invented.MOULDS["B60-02"], "state": "in service", "mounted": {"A1": "1", "A2": "1"}}
    [fault] = faults("mould", "B60-02", second, plant)
    assert fault.what == "Position 1 of A1 has mould B60-01 on it."
    assert faults("mould", "B60-02", {**second, "mounted": {"A1": "2"}}, plant) == []
    elsewhere = faults("mould", "B60-02", {**second, "mounted": {"S1": "1"}}, plant)
    assert "S1 is not among its arms" in said(elsewhere)
    plant.put("mould", "B60-01", first, ended=True)
    assert faults("mould", "B60-02", second, plant) == []


def test_a_training_of_a_task_that_does_not_exist(plant: All) -> None:
    text = said(faults("person", "P-50", {"roles": ["operator"], "trained": {"welding": "2027-01-01"}}, plant))
    assert "“trained” must be one of goods-in, weighing" in text or "“trained” must be one of" in text
    assert "“welding” stands there." in text


def test_two_products_cannot_have_one_prefix(plant: All) -> None:
    body = {**invented.products()["H320"], "hull_number": {"format": "plant", "prefix": "GHM-T430-"}}
    [fault] = faults("product", "H320", body, plant)
    assert fault.what == "“hull_number prefix” is GHM-T430-, and so is that of product T430."
    plant.put("product", "T430", invented.products()["T430"], ended=True)
    assert faults("product", "H320", body, plant) == []


def test_an_order_names_a_model_and_a_colour_that_are_made(plant: All) -> None:
    body = {"product": "T430", "colour": "plaid", "quantity": 0, "purpose": "fun"}
    text = said(faults("works_order", "WO-1", body, plant))
    assert "T430 has no colour plaid. Its colours are red, lime, teal." in text
    assert "“quantity” must be a whole number from 1" in text and "“purpose” must be one of production" in text
    lines = [{"product": "B60", "colour": "red", "quantity": 1}, {"product": "X", "colour": "red", "quantity": 1}]
    text = said(faults("sales_order", "SO-1", {"consignee": "NOBODY", "lines": lines}, plant))
    assert "there is no consignee NOBODY" in text and "“lines 2 product” names X" in text


def test_a_field_that_nothing_reads_is_a_slip(plant: All) -> None:
    found = faults("place", "R9", {"name": "Rack", "kind": "rack", "max_kgs": "240"}, plant)
    assert [f.now for f in found] == ["Is “max_kg” meant? Else take it out."]


def test_a_setting_that_there_is_not_is_a_slip(plant: All) -> None:
    [fault] = faults("setting", "tub litre", {"value": "40"}, plant)
    assert (fault.what, fault.now) == ("There is no setting “tub litre”.", "Is “tub litres” meant?")
    assert faults("setting", "tub litres", {"value": "40"}, plant) == []
    assert "must be a number" in said(faults("setting", "tub litres", {"value": "forty"}, plant))
    assert faults("setting", f"{RULE}VENT-DUE", {"value": "warn"}, plant) == []
    assert "must be one of refuse" in said(faults("setting", f"{RULE}VENT-DUE", {"value": "perhaps"}, plant))


def test_what_is_no_longer_used_is_not_chosen_anew_but_may_stay(plant: All) -> None:
    arm = {**invented.MACHINES["S2"], "ended": True}
    plant.put("machine", "S2", arm, ended=True)
    old = {**invented.MOULDS["T430-01"], "state": "in service"}
    assert faults("mould", "T430-01", old, plant) == []
    new = faults("mould", "T430-77", old, plant)
    assert [f.what for f in new] == ["“arms” names S2, which is no longer used."]


def test_a_thing_can_always_be_ended(plant: All) -> None:
    body = {"products": ["GONE"], "arms": ["GONE"], "state": "in service", "ended": True}
    assert faults("mould", "OLD-1", body, plant) == []


@pytest.mark.parametrize("kind", sorted(BY_NAME))
@pytest.mark.parametrize(
    "value",
    [None, True, 0, -1, "", " ", "x" * 500, [], {}, [None], [[]], [{}], {"": ""}, {"a": {"b": []}}, "\x00", "⟦"],
)
def test_whatever_stands_in_a_field_is_judged_and_never_a_fault_of_ours(kind: str, value: Any, plant: All) -> None:
    for one in (*BY_NAME[kind].all_fields, *BY_NAME["product"].fields):
        for fault in faults(kind, "X", {one.name: value}, plant):
            assert fault.what and fault.why and fault.now
