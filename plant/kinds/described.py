"""What the kinds say of themselves: the table of DEVELOPERS.md and the part of the API's description."""

from plant.kinds.kind import Kind
from plant.kinds.settings import SETTINGS
from plant.kinds.shapes import Field, Schema
from plant.kinds.table import KINDS


def markdown() -> str:
    """The table of shapes: a row a kind; a field that must be there stands bold."""
    head = "| kind | changed by | body |\n|---|---|---|\n"
    return head + "".join(f"| {kind.name} | {', '.join(kind.changed_by)} | {_body(kind)} |\n" for kind in KINDS)


def _body(kind: Kind) -> str:
    said = [_field(one) for one in kind.all_fields]
    if kind.named:
        said.insert(0, "name (the digest of a note)")
    if kind.name == "setting":
        keys = [f"`{one.key}` {one.shape.said()}".rstrip() for one in SETTINGS]
        said += [f"keys: `rule:CODE` a verdict, {', '.join(keys)}"]
    return ", ".join(said)


def _field(one: Field) -> str:
    shape = one.shape.said().replace("|", "/")
    name = f"**{one.name}**" if one.needed else one.name
    return f"{name} {shape}".rstrip()


def schema() -> Schema:
    """A thing of the plant as the API answers it: one of the kinds' bodies."""
    named = {"name": {"type": "string", "nullable": True, "description": "The digest of a note."}}
    bodies = [
        {**said, "properties": {**said["properties"], **(named if kind.named else {})}}
        for kind, said in ((kind, kind.schema()) for kind in KINDS)
    ]
    return {
        "type": "object",
        "properties": {
            "key": {"type": "string"},
            "version": {"type": "integer", "minimum": 1, "description": "Counts the revisions, from 1."},
            "ended": {"type": "boolean"},
            "body": {"oneOf": bodies},
        },
        "required": ["key", "version", "ended", "body"],
    }
