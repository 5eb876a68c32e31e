"""What was measured: readings with the instrument as it stood then, and the values of certificates against their limits."""

from collections.abc import Iterator
from dataclasses import astuple, dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation

from django.utils.translation import gettext as _

from trace.exports.paper import Column, Row, Table
from trace.sheets.facts.entries import Entry
from trace.sheets.hulls.gathered import Gathered
from trace.sheets.hulls.hands import calibration, did_word
from trace.sheets.hulls.lots import certificate, name

# How units of a reading are written for people.
UNITS = {"C": "°C"}


def reading_table(gathered: Gathered) -> Table:
    """Every reading of the hull and of what it is made of, in the order in which they were taken."""
    rows = [row for entry in gathered.entries if entry.kind != "certified" for row in _readings(gathered, entry)]
    return Table("readings", _("Inspections and measurements"), _("One value that was read, or one inspection."), (
        Column("when", _("When"), _("When it was read."), "time", wide=1.3),
        Column("act", _("In"), _("The act in which it was read."), wide=1.1),
        Column("unit", _("Of"), _("The unit that it was read of."), wide=1.5),
        Column("quantity", _("What"), _("What was read."), wide=1.2),
        Column("zone", _("Zone"), _("The zone of the mould plan."), wide=0.6),
        Column("value", _("Value"), _("The value as displayed."), wide=1.0),
        Column("unit_of_measure", _("Unit"), _("The unit of the value."), wide=0.5),
        Column("instrument", _("Instrument"), _("What it was read with."), wide=0.9),
        Column("calibration_then", _("Calibration then"), _("How its calibration stood then."), wide=2.0),
        Column("who", _("Who"), _("Who read it."), wide=1.4),
    ), tuple(rows))  # fmt: skip


def _readings(gathered: Gathered, entry: Entry) -> Iterator[Row]:
    who, act = gathered.known.person(entry.person), did_word(entry)
    for row in entry.part("readings"):
        node = gathered.by_uid.get(str(row["unit"]))
        with_what = str(row["instrument"] or "")
        kind = "machine" if gathered.plant.newest("machine", with_what) else "instrument"
        state = calibration(gathered, kind, with_what, entry.happened)[0] if with_what else ""
        yield (
            entry.happened, act, node.said if node else "", str(row["quantity"]), str(row["zone"] or ""),
            str(row["value"]), UNITS.get(str(row["uom"]), str(row["uom"])), with_what or None, state, who,
        )  # fmt: skip
    if entry.kind == "inspected":
        yield (
            entry.happened, act, gathered.hull.said, _("verdict"), "", _("%(verdict)s; looked at: %(checks)s") % {
                "verdict": entry.says.get("verdict") or _("none"),
                "checks": ", ".join(map(str, entry.says.get("checks") or ())) or _("nothing"),
            }, "", "", "", who,
        )  # fmt: skip


def certificate_table(gathered: Gathered) -> Table:
    """Each value of each certificate apart, so that it can be searched and charted: in the files only."""
    return Table("certificate_values", _("Certificates, value by value"), _("One value of one lot's certificate."), (
        Column("lot", _("Lot"), _("The supplier's number of the lot.")),
        Column("material", _("Material"), _("What it is.")),
        Column("read", _("Read"), _("When the certificate was entered."), "time"),
        Column("quantity", _("Quantity"), _("What the certificate tells of.")),
        Column("value", _("Value"), _("The value on it, in the unit of the plant's limits."), "number"),
        Column("low", _("Low"), _("The least the plant took then."), "number"),
        Column("high", _("High"), _("The most the plant took then."), "number"),
        Column("lot_on_certificate", _("Lot on it"), _("The lot that the certificate names.")),
    ), tuple(astuple(one) for one in certificate_values(gathered)))  # fmt: skip


@dataclass(frozen=True, slots=True)
class OnCertificate:
    """One value of one lot's certificate, with the least and the most that the plant took when it was `read`."""

    lot: str
    material: str
    read: datetime
    quantity: str
    value: Decimal | None
    low: Decimal | None
    high: Decimal | None
    lot_named: str

    @property
    def outside(self) -> bool:
        below = self.value is not None and self.low is not None and self.value < self.low
        return below or (self.value is not None and self.high is not None and self.value > self.high)


def certificate_values(gathered: Gathered) -> Iterator[OnCertificate]:
    """Every value of the certificates of a hull's lots, by lot."""
    for lot in sorted(gathered.of_kind("lot", "blend"), key=lambda n: (n.lot_no or "", n.uid)):
        paper = certificate(gathered, lot)
        if paper is None:
            continue
        material = str(lot.about.get("material") or "")
        limits = gathered.plant.at("material", material, paper.happened).get("spec", {})
        for quantity, value in sorted(paper.says["values"].items()):
            low, high = (number(text) for text in (limits.get(quantity) or (None, None)))
            named = str(paper.says.get("lot_on_certificate") or "")
            yield OnCertificate(
                name(lot), material, paper.happened, str(quantity), number(value), low, high, named
            )  # fmt: skip


def number(text: object) -> Decimal | None:
    """A figure as it was written; None where it is none."""
    try:
        found = Decimal(str(text))
    except InvalidOperation:
        return None
    return found if found.is_finite() else None
