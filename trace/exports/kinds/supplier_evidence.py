"""The paper that goes to a lot's supplier: what came, its values beside that supplier's other lots, the hulls that hold it
or may, and which of them came back, with what was tested. It names no buyer or consignee, and blames nobody.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from statistics import median

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.exports.asked import Asked, PaperError, Reader, for_reader
from trace.exports.kinds.balances import balance_rows, columns
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, amount, plant_name, unit_of
from trace.exports.kinds.lot import certificate_values, containers, hulls
from trace.exports.kinds.measured import number
from trace.exports.paper import Column, Facts, Paper, Part, Photo, Picture, Row, Said, Table
from trace.genealogy.causes import Holds
from trace.genealogy.certificates import certificates
from trace.genealogy.deeds import lots_like, lots_of_supplier
from trace.genealogy.places import GONE
from trace.genealogy.reasons import stamped
from trace.genealogy.sharing import Line, Shared, shared_by
from trace.recording.acts.cases import RecordTest
from trace.recording.acts.complaint_words import SYMPTOMS, word
from trace.sheets.cases.said import use
from trace.sheets.cases.told import Complaint, Told, digests, told
from trace.sheets.contracts import LotSheet
from trace.sheets.facts.entries import Entry
from trace.sheets.facts.notes import Notes, notes
from trace.sheets.lots.gathered import GatheredLot, gather_lot
from trace.sheets.lots.sheet import lot_sheet

NO_PROOF = gettext_lazy(
    "That a hull holds the lot does not say that the lot is why it failed. What a laboratory finds on the part, and on a"
    " sample kept of the lot, can show it; so can the hulls without it that failed in the same way."
)
DISCLOSED = gettext_lazy(
    "This paper is made to leave the plant: no buyer or consignee stands in it, and no person but whoever printed it."
)


@dataclass(frozen=True, slots=True)
class Gathered:
    """A lot as known then, who shares it, the complaints of those that hold it or may, and what was tested of them.
    `lines`: a hull's uid -> its line; `complained`: every hull with a complaint; `tests`: (number of the case, the step)."""

    lot: GatheredLot
    shared: Shared
    lines: Mapping[str, Line]
    complaints: Sequence[Complaint]
    complained: Collection[str | None]
    tests: Sequence[tuple[int, Entry]]
    words: Notes


def supplier_evidence(asked: Asked) -> Paper:
    """Raises LookupError where nobody knew such a lot then or several go by the number, PaperError for what no supplier
    delivered."""
    # Whoever asks for it, it is read outside.
    reader = Reader(words=asked.reader.words)
    on = asked.as_known_on
    lot = gather_lot(asked.words["number"], on, whole=True)
    if lot.lot.kind != "lot":
        raise PaperError(_("Several lots came together in it: ask for the one that a supplier delivered."))
    lot = replace(lot, known=for_reader(lot.known, reader))
    g, sheet = _gathered(lot, on), lot_sheet(lot)
    return Paper(
        kind="supplier-evidence",
        what=_("Evidence for a supplier: %(material)s") % {"material": sheet.material},
        title=sheet.lot,
        question=(("number", asked.words["number"]),),
        as_known_on=on,
        records=sheet.records_count,
        gaps=sheet.gaps,
        parts=tuple(_parts(g, sheet, reader, on)),
        caution=sheet.caution,
        plant=plant_name(on),
        photos=tuple(photo for one in g.complaints for photo in _photos_of(one)),
    )


def _gathered(lot: GatheredLot, on: datetime) -> Gathered:
    shared = shared_by(Holds(lot.lot.uid), on)
    lines = {line.made.uid: line for line in shared.lines}
    every = told(on)
    complaints = [
        one for one in every.complaints.values() if one.hull in lines and lines[one.hull].verdict != "cannot"
    ]
    tests = _tests_of(every, complaints)
    complained = {one.hull for one in every.complaints.values()}
    return Gathered(lot, shared, lines, complaints, complained, tests, notes(digests([step for _number, step in tests])))


def _tests_of(every: Told, complaints: Sequence[Complaint]) -> list[tuple[int, Entry]]:
    cases = sorted({one.case for one in complaints if one.case is not None})
    return [(case, step) for case in cases for step in every.cases[case].of(RecordTest)]


def _parts(g: Gathered, sheet: LotSheet, reader: Reader, on: datetime) -> Iterator[Part]:
    yield Facts("", (
        (_("Material or part"), sheet.material),
        (_("Supplier"), sheet.supplier),
        (_("Received"), stamped(sheet.received) if sheet.received else ""),
        *(((_("Use by"), f"{sheet.expires:%-d %b %Y}"),) if sheet.expires else ()),
        (_("Standing"), sheet.standing),
        (_("Hulls that hold it"), _("%(certain)d certain, %(may)d may") % {
            "certain": g.shared.count("certain"), "may": g.shared.count("may"),
        }),
        (_("Complaints of those"), str(len(g.complaints))),
    ))  # fmt: skip
    yield Said("", (str(NO_PROOF), str(DISCLOSED)))
    if sheet.drawing:
        yield Picture(_("What is left, and where it went"), sheet.drawing.wide)
    yield certificate_values(sheet)
    yield _other_lots(g, sheet, on)
    yield Table("balances", _("Mass balance"), _("One line of the lot's balance."), columns(), tuple(balance_rows(g.lot)))
    yield containers(sheet)
    yield _how_often(g)
    yield _complaints(g)
    yield _tests(g, reader)
    yield _samples(sheet)
    yield _photos(g)
    yield hulls(g.lot)
    yield again(_("evidence on lot %(number)s, as known on %(on)s") % {"number": sheet.lot, "on": on.isoformat()}, sheet.records, reader)


def _other_lots(g: Gathered, sheet: LotSheet, on: datetime) -> Table:
    """How each value of its certificate lies among those of the same supplier's other lots of the same material."""
    lot = g.lot.lot
    others = (lots_like([lot.id], on) & set(lots_of_supplier(str(lot.about.get("supplier") or ""), on))) - {lot.id}
    return Table("other_lots", _("Beside this supplier's other lots of it"), _("One value of the certificate, among those of the other lots."), (
        Column("quantity", _("Quantity"), _("What the certificate tells of."), wide=1.6),
        Column("value", _("This lot"), _("The value on its certificate."), "number", wide=0.9),
        Column("lots", _("Other lots"), _("Lots of the same material and supplier whose certificate tells it."), "count", wide=0.8),
        Column("least", _("Least"), _("The least of theirs."), "number", wide=0.9),
        Column("middle", _("Median"), _("The median of theirs: as many lie above as below."), "number", wide=0.9),
        Column("most", _("Most"), _("The most of theirs."), "number", wide=0.9),
        Column("beyond", _("Beyond them"), _("It is below the least or above the most of theirs."), "flag", wide=0.9),
    ), tuple(_among(one.quantity, own, others, on) for one in sheet.tests if (own := number(one.value)) is not None), _("No figure of a certificate is recorded."))  # fmt: skip


def _among(quantity: str, own: Decimal, others: set[int], on: datetime) -> Row:
    theirs = [value for lot, values in certificates(quantity, on).items() if lot in others for value in values[-1:]]
    if not theirs:
        return quantity, own, 0, None, None, None, False
    beyond = not min(theirs) <= own <= max(theirs)
    return quantity, own, len(theirs), min(theirs), median(theirs), max(theirs), beyond


def _how_often(g: Gathered) -> Table:
    """Of the hulls that have left the plant, since of others nobody complains."""
    gone = _gone(g)
    bad = g.complained
    models = sorted({_model(line) for line in gone if line.verdict != "cannot"})
    return Table("how_often", _("How often hulls with it came back, and hulls without"), _("The hulls of one model that left the plant, by whether they hold the lot."), (
        Column("model", _("Model"), _("The product."), wide=1.4),
        Column("verdict", _("Holds it"), _("Whether they hold the lot."), "verdict", wide=1),
        Column("left", _("Left the plant"), _("Hulls that left the plant."), "count", wide=1),
        Column("complained", _("With a complaint"), _("Of these, hulls with a complaint of any kind."), "count", wide=1.1),
    ), tuple(
        (model, verdict, len(those), sum(1 for line in those if line.made.uid in bad))
        for model in models
        for verdict in ("certain", "may", "cannot")
        for those in [[line for line in gone if line.verdict == verdict and _model(line) == model]]
    ), _("None of them has left the plant."))  # fmt: skip


def _gone(g: Gathered) -> list[Line]:
    g.shared.look_up_places(g.shared.lines)
    return [line for line in g.shared.lines if (line.place or "").startswith(GONE)]


def _model(line: Line) -> str:
    return str(line.made.about.get("product") or "")


def _complaints(g: Gathered) -> Table:
    return Table("complaints", _("Complaints of hulls that hold it or may"), _("One complaint."), (
        Column("number", _("No."), _("The complaint's number."), "count", wide=0.45),
        Column("hull", _("Hull"), _("The number on its plate."), wide=1.75),
        Column("verdict", _("Holds it"), _("Whether the hull holds the lot."), "verdict", wide=0.9),
        Column("least", _("Least"), _("Least of the lot in it."), "number", wide=0.8),
        Column("best", _("Likely"), _("How much of the lot, had everything mixed well."), "number", wide=0.8),
        Column("most", _("Most"), _("Most of the lot in it; empty: the records set no upper bound."), "number", wide=0.8, none=_("no bound")),
        Column("unit_of_measure", _("Unit"), _("kg, pieces or m."), wide=0.6),
        Column("symptom", _("Symptom"), _("What is wrong with it."), wide=1.5),
        Column("place", _("At"), _("The place on the drawing."), wide=0.7, none=_("not told")),
        Column("made", _("Made"), _("When the hull was made."), "time", wide=1.1),
        Column("failed", _("Failed"), _("When it failed."), "day", wide=1.1, none=_("not told")),
        Column("use", _("In use"), _("How long it was used."), wide=0.9, none=_("not told")),
        Column("case", _("Case"), _("The number of the case that it is in."), "count", wide=0.5, none=_("none")),
    ), tuple(_complaint(g, one) for one in g.complaints), _("No complaint is of a hull that holds it or may."))  # fmt: skip


def _complaint(g: Gathered, one: Complaint) -> Row:
    line = g.lines[one.hull or ""]
    inside = g.lot.lines.get(line.hull)
    bounds: tuple[Decimal | None, ...] = (None, None, None)
    if inside is not None:
        total = inside.share.total
        bounds = tuple(amount(value, inside.uom) for value in (total.least, total.best, total.most))
    failed = one.day("failed")
    return (
        one.number, line.node.said, line.verdict, *bounds, unit_of(inside.uom if inside else None),
        word(SYMPTOMS, one.says["symptom"]), one.says.get("spot") or None, line.node.happened,
        date.fromisoformat(failed) if failed else None, use(one.says) or None, one.case,
    )  # fmt: skip


def _tests(g: Gathered, reader: Reader) -> Table:
    def said(step: Entry, name: str) -> str | None:
        return g.words.text(step.says.get(name)) if reader.words else _("(words kept from this reader)")

    return Table("tests", _("What was tested in the cases of those complaints"), _("One test."), (
        Column("case", _("Case"), _("The number of the case."), "count", wide=0.5),
        Column("day", _("Day"), _("When it was tested."), "day", wide=1, none=_("not told")),
        Column("what", _("What"), _("What was looked at."), wide=3),
        Column("result", _("Result"), _("What came of it."), wide=3),
    ), tuple(
        (case, date.fromisoformat(step.says["day"]) if step.says.get("day") else None, said(step, "what"), said(step, "result"))
        for case, step in g.tests
    ), _("None."))  # fmt: skip


def _samples(sheet: LotSheet) -> Table:
    return Table("samples", _("Samples kept of it"), _("One retained sample."), (
        Column("sample", _("Sample"), _("Its label."), wide=1.4),
        Column("amount", _("Amount"), _("How much was kept."), wide=1),
        Column("until", _("Kept until"), _("The last day on which it is kept."), "day", wide=1.2),
        Column("standing", _("Standing"), _("Whether it is kept, was used or is gone."), wide=2),
    ), tuple((one.code, one.amount, one.until, one.standing) for one in sheet.samples), _("None is kept."))  # fmt: skip


def _photos_of(one: Complaint) -> Iterator[Photo]:
    for n, row in enumerate(one.entry.part("blobs"), 1):
        yield Photo(f"complaint-{one.number}-{n}.jpg", str(row["sha256"]))


def _photos(g: Gathered) -> Table:
    return Table("photos", _("Photos of those complaints"), _("One photo; the ZIP holds the pictures themselves."), (
        Column("complaint", _("No."), _("The complaint's number."), "count", wide=0.5),
        Column("photo", _("File"), _("Its name in the ZIP."), wide=1.6),
        Column("sha256", _("Fingerprint"), _("The SHA-256 of the picture."), wide=4),
    ), tuple((one.number, photo.name, photo.sha256) for one in g.complaints for photo in _photos_of(one)), _("None."))  # fmt: skip


KIND = PaperKind(
    name="supplier-evidence",
    prefix="SE",
    title=gettext_lazy("Evidence for a supplier"),
    asks={"number": gettext_lazy("its number, or a label of one of its containers")},
    make=supplier_evidence,
    page="case",
    has_photos=True,
)
