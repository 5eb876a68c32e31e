"""Codes read from labels, plates and suppliers' papers, and amounts: plain Python, no database."""

from trace.codes.amounts import kg_to_mg, mg_to_kg, parse_amount
from trace.codes.digital_link import DigitalLink, build_digital_link, parse_digital_link
from trace.codes.errors import AmountError, CodeError
from trace.codes.gs1 import ElementString, check_digit, gs1_date, parse_element_string
from trace.codes.hull_number import HullNumber, build_hull_number, parse_hull_number, us_model_years
from trace.codes.label import LabelCode, issue_label_code, parse_label_code, printed
from trace.codes.plain import printable, storable
from trace.codes.positions import in_order, named_together
from trace.codes.scanned import Scanned, parse_scan
from trace.codes.uuid7 import uuid7, uuid7_time_ms

__all__ = [
    "AmountError",
    "CodeError",
    "DigitalLink",
    "ElementString",
    "HullNumber",
    "LabelCode",
    "Scanned",
    "build_digital_link",
    "build_hull_number",
    "check_digit",
    "gs1_date",
    "in_order",
    "issue_label_code",
    "kg_to_mg",
    "mg_to_kg",
    "named_together",
    "parse_amount",
    "parse_digital_link",
    "parse_element_string",
    "parse_hull_number",
    "parse_label_code",
    "parse_scan",
    "printable",
    "printed",
    "storable",
    "us_model_years",
    "uuid7",
    "uuid7_time_ms",
]
