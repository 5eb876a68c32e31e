"""The paper of one hull: all that an auditor takes away of it, as known on a day."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from functools import partial

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.exports.asked import Asked, Reader, for_reader
from trace.exports.epcis.events import hull_events
from trace.exports.kinds.after import impact_table, owner_table
from trace.exports.kinds.balances import balance_table
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, amount, history_table, hold_table, plant_name, told_tables, tree_table
from trace.exports.kinds.measured import certificate_table, certificate_values, reading_table
from trace.exports.paper import Beside, Column, Facts, Paper, Part, Picture, Row, Said, Table
from trace.sheets.contracts import HullSheet
from trace.sheets.hulls.gathered import Gathered, gather
from trace.sheets.hulls.sheet import hull_sheet

# Readings of the whole moulding.
MASSES = ("hull mass", "as moulded")


def hull_paper(asked: Asked) -> Paper:
    """Raises LookupError where nobody knew such a hull then."""
    gathered = gather(asked.words["number"], asked.as_known_on)
    gathered = replace(gathered, known=for_reader(gathered.known, asked.reader))
    sheet = hull_sheet(gathered, with_shared=False)
    return Paper(
        kind="hull",
        what=_("Hull report: %(model)s, %(colour)s") % {"model": sheet.model, "colour": sheet.colour},
        title=sheet.serial,
        question=(("number", sheet.serial),),
        as_known_on=asked.as_known_on,
        records=sheet.records_count,
        gaps=sheet.gaps,
        parts=tuple(_parts(gathered, sheet, asked.reader, asked.as_known_on)),
        caution=sheet.caution,
        plant=plant_name(asked.as_known_on),
        events=partial(hull_events, gathered),
    )


def _parts(gathered: Gathered, sheet: HullSheet, reader: Reader, known: datetime) -> Iterator[Part]:
    if sheet.holds:
        lines = tuple(
            f"{hold.text.rstrip('.')}. {hold.effect or _('Do not use, pack or ship.')} {'' if hold.certain else _('It may not reach this hull.')}".strip()
            for hold in sheet.holds
        )
        yield Said(_("On hold"), lines, "stop")
    if against := (*_outside(gathered), *_let_pass(sheet)):
        yield Said(_("Outside limits, or let pass"), against)
    yield from _first(gathered, sheet)
    yield _layers(sheet)
    yield _placed(sheet)
    yield _lots(sheet)
    yield certificate_table(gathered)
    yield from _cooks(sheet)
    yield reading_table(gathered)
    yield impact_table(gathered)
    yield _instruments(sheet)
    yield _people(sheet)
    yield hold_table(sheet.holds)
    yield owner_table(gathered)
    yield from told_tables((*sheet.stock, *sheet.history))
    yield tree_table(
        "went_in", _("What went into it, back to goods-in"), _("One way by which a unit went into another."), gathered.answer
    )
    yield _went_out(gathered)
    yield balance_table([node for node in gathered.of_kind("lot") if node.about.get("material")], known)
    yield history_table("history", _("From goods-in to where it is"), _("One act of its making and of what followed."), sheet.history)
    yield history_table("stock", _("Goods in, stock and plates before that"), _("One act by which its lots came and were let in."), sheet.stock)
    question = _("hull %(serial)s, as known on %(on)s") % {"serial": sheet.serial, "on": known.isoformat()}
    yield again(question, sheet.records, reader, sheet.rules)


def _outside(gathered: Gathered) -> Iterator[str]:
    """What the certificates of its lots say that the plant's limits of then did not take."""
    for one in certificate_values(gathered):
        if one.outside:
            yield _("%(material)s lot %(lot)s: %(quantity)s %(value)s on its certificate, limits %(low)s to %(high)s.") % {
                "material": one.material, "lot": one.lot, "quantity": one.quantity, "value": one.value,
                "low": "–" if one.low is None else one.low, "high": "–" if one.high is None else one.high,
            }  # fmt: skip


def _let_pass(sheet: HullSheet) -> Iterator[str]:
    """The rules that were let pass on its way, in the order of happening."""
    for line in sorted((x for x in (*sheet.stock, *sheet.history) if x.override), key=lambda x: x.happened):
        yield _("%(what)s (%(who)s): %(note)s.") % {"what": line.what, "who": line.who, "note": line.note.rstrip(".")}


def _first(gathered: Gathered, sheet: HullSheet) -> Iterator[Part]:
    """What stands on the first sheet: what it is, where it is, its drawings."""
    made = f"{sheet.made:%-d %b %Y}" if sheet.made else sheet.made_about
    place = sheet.place
    yield Beside(
        Facts("", (
            (_("Model, colour"), f"{sheet.model}, {sheet.colour}"),
            (_("Made"), made),
            (_("Mould"), sheet.mould),
            (_("Moulding number"), sheet.moulding),
            (_("Recipe"), sheet.recipe_revision),
            *(((_("Purpose"), sheet.purpose),) if sheet.purpose else ()),
            *((_("Other numbers"), f"{one.when:%-d %b %Y}: {one.text}") for one in sheet.kin),
        )),
        Facts("", (
            (_("State"), sheet.state),
            (_("Where it is"), place.text if place and place.known else ""),
            *(((_("Details"), place.detail),) if place and place.detail else ()),
            *(((_("Label"), sheet.code),) if sheet.code else ()),
            *_masses(gathered),
        )),
    )  # fmt: skip
    if sheet.plan:
        yield Picture(_("Mould plan"), sheet.plan.wide)
    zones = Facts(_("Thickness by zone, mm"), tuple(
        (_("%(zone)s, least %(least)s") % {"zone": z.zone, "least": z.least_mm}, "" if z.mm is None else f"{z.mm}{_(' BELOW') if z.below else ''}")
        for z in sheet.zones
    ))  # fmt: skip
    if sheet.wall:
        wall = Picture(_("Wall section, as charged"), sheet.wall.wide)
        yield Beside(wall, zones) if sheet.zones else wall
    elif sheet.zones:
        yield zones


def _masses(gathered: Gathered) -> Iterator[tuple[str, str]]:
    """Charged and weighed as moulded, in kg."""
    charges = [edge.amount for edge in gathered.into_loads if edge.role == "charge"]
    if charges:
        whole = None if None in charges else amount(sum(filter(None, charges)), "mg")
        yield _("Charged"), f"{whole} kg" if whole is not None else ""
    read = [row for entry in gathered.entries for row in entry.part("readings") if row["quantity"] in MASSES]
    for row in read:
        yield _("Weighed as moulded"), f"{row['value']} {row['uom']}"


def _layers(sheet: HullSheet) -> Table:
    return Table("layers", _("Layers, outside first"), _("One lot in one layer; a layer without a record has a row of its own."), (
        Column("layer", _("Layer"), _("The layer."), wide=0.9),
        Column("material", _("Material"), _("What was charged."), wide=1.2),
        Column("charged", _("Charged"), _("All of the layer, as recorded."), "number", "kg", 0.8),
        Column("target", _("Target"), _("What the recipe asks for."), wide=1.3),
        Column("lot", _("Lot"), _("The supplier's number of the lot."), wide=0.9),
        Column("supplier", _("Supplier"), _("Whose lot it is."), wide=1.3),
        Column("verdict", _("In it"), _("Whether the lot is in the layer: certain or may."), "verdict", wide=0.95),
        Column("least", _("Least"), _("Least of the lot in the layer."), "number", "kg", 0.7),
        Column("best", _("Likely"), _("How much of the lot, had everything mixed well."), "number", "kg", 0.75),
        Column("most", _("Most"), _("Most of the lot in the layer; not recorded: no upper bound."), "number", "kg", 0.75),
        Column("standing", _("Standing"), _("How the lot stood then."), wide=1.0),
        Column("how", _("Weighed"), _("What the scale showed, and how it was read."), wide=2.2),
    ), tuple(_layer_rows(sheet)))  # fmt: skip


def _layer_rows(sheet: HullSheet) -> Iterator[Row]:
    for layer in sheet.layers:
        head = (layer.name, layer.material, layer.kg, layer.target)
        for lot in layer.lots:
            yield (*head, lot.lot, lot.supplier, lot.verdict, lot.least, lot.best, lot.most, lot.standing, layer.how)
        if not layer.lots:
            yield (*head, None, None, None, None, None, None, "", layer.how)


def _placed(sheet: HullSheet) -> Table:
    rows: list[Row] = [
        (_("insert"), x.positions, x.part, x.count, None if x.missing else x.lot, x.supplier, None if x.missing else x.verdict, x.note)
        for x in sheet.inserts
    ]
    rows += [
        (
            _("graphic"), g.position, f"{g.artwork} {_('rev %(n)s') % {'n': g.revision}}", 1,
            None if g.missing else g.lot, "", None if g.missing else g.verdict, g.note,
        )
        for g in sheet.graphics
    ]  # fmt: skip
    return Table("placed", _("Inserts and graphics by position"), _("Positions filled from one lot."), (
        Column("kind", _("Kind"), _("Insert or graphic."), wide=0.7),
        Column("positions", _("Where"), _("The positions on the mould plan."), wide=1.5),
        Column("part", _("Part or artwork"), _("The part with its finish, or the artwork with its revision."), wide=2.2),
        Column("count", _("Count"), _("How many."), "count", wide=0.5),
        Column("lot", _("Lot"), _("The lot that is or may be there."), wide=1.0),
        Column("supplier", _("Supplier"), _("Whose lot it is."), wide=1.6),
        Column("verdict", _("In it"), _("Whether it is there: certain or may."), "verdict", wide=0.9),
        Column("note", _("Note"), _("What is to be known of it."), wide=1.9),
    ), tuple(rows), _("The recipe takes neither insert nor graphic.") if sheet.nothing_asked else _("none recorded"))  # fmt: skip


def _lots(sheet: HullSheet) -> Table:
    return Table("lots", _("Every lot in it: certificate and release"), _("One lot in the hull."), (
        Column("lot", _("Lot"), _("The supplier's number of the lot."), wide=1.0),
        Column("material", _("Material or part"), _("What it is."), wide=1.4),
        Column("supplier", _("Supplier"), _("Whose lot it is."), wide=1.5),
        Column("received", _("Received"), _("When it came; not recorded: before records, or never."), "time", wide=1.25),
        Column("certificate", _("Certificate, with the limits then"), _("What its certificate says, with the limits in force then."), wide=2.7),
        Column("released", _("Released by"), _("Who released it, and when."), wide=1.9),
        Column("standing", _("Standing"), _("How it stood then."), wide=1.0),
        Column("before_records", _("Before records"), _("It was there before records began."), "flag"),
    ), tuple(
        (x.lot, x.material, x.supplier, x.received, x.certificate or None, x.released or None, x.standing, x.before_records)
        for x in sheet.lots
    ))  # fmt: skip


def _cooks(sheet: HullSheet) -> Iterator[Table]:
    yield Table("cycles", _("Oven cycles"), _("One cook; a hull cooked twice has two."), (
        Column("cycle", _("Cycle"), _("The number of the cycle."), wide=0.9),
        Column("oven", _("Oven"), _("The oven."), wide=0.8),
        Column("arm", _("Arm"), _("The arm or carriage."), wide=0.8),
        Column("began", _("Began"), _("When it began."), "time", wide=1.3),
        Column("ended", _("Ended"), _("When it ended."), "time", wide=1.3),
        Column("peak", _("Peak inside"), _("Peak internal air temperature, with the recipe's limits."), wide=1.5),
        Column("log", _("Log"), _("The logger whose log is attached."), wide=1.3),
        Column("note", _("Settings and what was read"), _("Set temperature, rotation, temperature at demould."), wide=3),
    ), tuple(
        (c.number, c.oven, c.arm, c.began, c.ended, c.peak or None, c.log or None, c.note) for c in sheet.cycles
    ))  # fmt: skip
    yield Table("stages", _("Stages of the cook, planned and seen"), _("One stage of one cycle."), (
        Column("cycle", _("Cycle"), _("The number of the cycle."), wide=0.9),
        Column("stage", _("Stage"), _("The stage."), wide=1.3),
        Column("planned", _("Planned"), _("What the recipe asks for."), wide=1.5),
        Column("seen", _("Seen"), _("When it was seen, at which temperature."), wide=2),
        Column("after", _("After the start"), _("The same, counted from the start of the cycle."), wide=2.4),
        Column("outside", _("Outside"), _("It is not as planned."), "flag", wide=0.8),
    ), tuple(
        (c.number, s.name, s.planned, s.observed or None, s.after, s.outside) for c in sheet.cycles for s in c.stages
    ))  # fmt: skip


def _instruments(sheet: HullSheet) -> Table:
    return Table("instruments", _("Instruments, as they stood then"), _("One instrument or oven that it went through."), (
        Column("instrument", _("Instrument"), _("Its name."), wide=1),
        Column("did", _("Used for"), _("What it was used for."), wide=1.6),
        Column("state_then", _("State at that time"), _("Calibration and check-weights as they stood then."), wide=3.6),
        Column("known_since", _("Known since"), _("What became known of it later."), wide=2.4),
        Column("doubtful", _("In doubt"), _("What it showed is in doubt."), "flag", wide=0.7),
    ), tuple((i.name, i.did, i.state_then, i.since, i.doubtful) for i in sheet.instruments))  # fmt: skip


def _people(sheet: HullSheet) -> Table:
    return Table("people", _("People, and their training then"), _("One person who had a hand in it."), (
        Column("person", _("Person"), _("Who."), wide=1.6),
        Column("did", _("Did"), _("What they did."), wide=2.6),
        Column("trained", _("Training at that time"), _("Sign-offs in force then."), wide=4.4),
        Column("doubtful", _("In doubt"), _("A sign-off was missing."), "flag", wide=0.7),
    ), tuple((p.name, p.did, p.trained or None, p.doubtful) for p in sheet.people))  # fmt: skip


def _went_out(gathered: Gathered) -> Table:
    """Forward from the hull: packs and consignments, and to whom they went."""
    rows = []
    for edge in gathered.around_edges:
        node = gathered.around[edge.child]
        inner = gathered.around.get(edge.parent, gathered.hull)
        consignee = str(node.about.get("consignee") or "")
        rows.append((
            inner.said, edge.role, node.kind, node.said, str(node.about.get("order") or ""),
            gathered.known.place(f"gone: {consignee}") if consignee else "", node.happened, node.uid,
        ))  # fmt: skip
    return Table("went_out", _("Where it went: packs, consignments, consignees"), _("One way out."), (
        Column("unit", _("Unit"), _("What went."), wide=1.8),
        Column("way", _("Way"), _("How it went."), wide=0.8),
        Column("kind", _("Into"), _("What kind of unit it went into."), wide=1.1),
        Column("into", _("Its code"), _("The unit it went into."), wide=1.4),
        Column("order", _("Order"), _("For which order."), wide=1.0),
        Column("consignee", _("Consignee"), _("To whom it went."), wide=2.2),
        Column("when", _("When"), _("When it went."), "time", wide=1.3),
        Column("uid", _("Identifier"), _("The identifier of the unit it went into.")),
    ), tuple(rows), _("It is neither packed nor sent."))  # fmt: skip


KIND = PaperKind(
    name="hull",
    prefix="HR",
    title=gettext_lazy("Hull report"),
    asks={"number": gettext_lazy("the number on its plate, or a label")},
    make=hull_paper,
    page="hull",
    has_events=True,
)
