"""What is said of one kind of plant data, and the fields that every kind has."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from plant.kinds.faults import Body, Fault, Others
from plant.kinds.shapes import ByName, Every, Field, OneOf, Parts, Ref, Schema, Shape, YesNo

# A thing is never deleted: it is ended, and its history stays.
ENDED = Field("ended", YesNo(), _("It is no longer used; its history stays."))
Across = Callable[[str, Body, Others], Iterator[Fault]]


def nothing_across(_key: str, _body: Body, _others: Others) -> Iterator[Fault]:
    yield from ()


@dataclass(frozen=True)
class Kind:
    """A kind of plant data, said once.

    name: as records and addresses call it. title: its list; one: one of it. table: its read model. changed_by: roles
    that may enter and change it. named: its name is a person's or firm's and is kept apart, so that it can be erased.
    labelled: it gets a label when it is first entered. summary: the fields a list shows. across: what is wrong with it
    beside the others of its plant. whole: the rest of the body's shape where it hangs on the key (settings).
    example: what an empty text form begins with.
    """

    name: str
    title: Promise
    one: Promise
    table: str
    changed_by: tuple[str, ...]
    fields: tuple[Field, ...]
    about: Promise
    named: bool = False
    labelled: bool = False
    summary: tuple[str, ...] = ()
    across: Across = nothing_across
    example: Mapping[str, Any] = field(default_factory=dict)

    @property
    def all_fields(self) -> tuple[Field, ...]:
        return (*self.fields, ENDED)

    @property
    def shape(self) -> Parts:
        return Parts(self.all_fields)

    @property
    def by_boxes(self) -> bool:
        """Whether each field has boxes of its own in a form; else the body is typed as text."""
        return not self.example and all(boxed(one.shape) for one in self.fields)

    def schema(self) -> Schema:
        return {**self.shape.schema(), "title": self.name, "description": str(self.about)}


def boxed(shape: Shape) -> bool:
    """Whether a form can ask for it: one box, boxes to tick, a box a line, a box for each name of a short list."""
    if isinstance(shape, Every):
        inner = shape.inner
        return inner.plain or (isinstance(inner, Parts) and all(one.shape.plain for one in inner.fields))
    if isinstance(shape, ByName):
        return isinstance(shape.keys, OneOf | Ref) and shape.inner.plain
    return shape.plain
