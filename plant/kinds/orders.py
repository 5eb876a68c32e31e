"""Kinds of plant data that say what is to be made and sent: works orders and sales orders."""

from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as now_
from django.utils.translation import gettext_lazy as _

from plant.kinds.faults import Body, Fault, Others
from plant.kinds.kind import Kind
from plant.kinds.shapes import Every, Field, OneOf, Parts, Ref, Text, Whole

PLANNERS = ("administrator", "planner")
WHAT = (
    Field("product", Ref("product"), _("The model."), needed=True),
    Field("colour", Text(), _("One of the colours of the model."), needed=True),
    Field("quantity", Whole(least=1), _("How many."), "pieces", needed=True),
)


def _colour(where: str, line: Any, others: Others) -> Iterator[Fault]:
    """The colour must be one of the product's; a product that lists none takes any."""
    if not isinstance(line, dict) or not isinstance(line.get("product"), str):
        return
    product = others.get("product", line["product"])
    colours = product.body.get("colours") if product else None
    if colours and isinstance(line.get("colour"), str) and line["colour"] not in colours:
        yield Fault(
            where,
            now_("%(product)s has no colour %(colour)s.") % {"product": product.key, "colour": line["colour"][:40]},
            now_("Its colours are %(colours)s.") % {"colours": ", ".join(colours)},
            now_("Choose one of them, or add the colour to the product first."),
        )


def works_across(_key: str, body: Body, others: Others) -> Iterator[Fault]:
    yield from _colour("colour", body, others)


def sales_across(_key: str, body: Body, others: Others) -> Iterator[Fault]:
    lines = body.get("lines")
    for n, line in enumerate(lines if isinstance(lines, list) else (), 1):
        yield from _colour(f"lines {n} colour", line, others)


WORKS_ORDER = Kind(
    "works_order", _("Works orders"), _("works order"), "plant_works_order", PLANNERS,
    (*WHAT, Field("purpose", OneOf(("production", "trial", "purge")), _("What it is made for."), needed=True)),
    _("What is to be moulded."),
    labelled=True, summary=("quantity", "product", "colour", "purpose"), across=works_across,
)  # fmt: skip

SALES_ORDER = Kind(
    "sales_order", _("Sales orders"), _("sales order"), "plant_sales_order", PLANNERS,
    (
        Field("consignee", Ref("consignee"), _("Who it is sent to."), needed=True),
        Field("lines", Every(Parts(WHAT), least=1), _("What is to be sent."), needed=True),
    ),
    _("What is to be packed and sent, and to whom."),
    labelled=True, summary=("consignee", "lines"), across=sales_across,
)  # fmt: skip
