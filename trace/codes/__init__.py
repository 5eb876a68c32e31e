"""Codes read from labels, plates and suppliers' papers, and amounts: plain Python, no database."""

from trace.codes.amounts import kg_to_mg, mg_to_kg, parse_amount
from trace.codes.errors import AmountError, CodeError
from trace.codes.label import LabelCode, issue_label_code, parse_label_code
from trace.codes.plain import shown, storable
from trace.codes.uuid7 import uuid7, uuid7_time_ms

__all__ = [
    "AmountError",
    "CodeError",
    "LabelCode",
    "issue_label_code",
    "kg_to_mg",
    "mg_to_kg",
    "parse_amount",
    "parse_label_code",
    "shown",
    "storable",
    "uuid7",
    "uuid7_time_ms",
]
