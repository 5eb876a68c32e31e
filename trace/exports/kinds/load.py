"""The paper of one load: for whom, by what, every hull with its plate, and the age of the list of holds it left by."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.exports.asked import Asked
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, plant_name
from trace.exports.paper import Column, Facts, Paper, Table
from trace.genealogy.answer import one_picture, what_was_known
from trace.sheets.contracts import grouped
from trace.sheets.hulls.sheet import caution
from trace.sheets.loads import Load, load_of


def load_paper(asked: Asked) -> Paper:
    """Raises LookupError where nobody knew such a load then."""
    with one_picture():
        _at, records = what_was_known(asked.as_known_on)
        load = load_of(asked.words["load"], asked.as_known_on)
    kept_back = not asked.reader.consignees
    consignee = _("a consignee") if kept_back else load.consignee
    question = _("load %(load)s, as known on %(on)s") % {"load": load.uid, "on": asked.as_known_on.isoformat()}
    return Paper(
        kind="load", what=_("Load paper: %(order)s") % {"order": load.order}, title=consignee or _("not recorded"),
        question=(("load", load.uid),), as_known_on=asked.as_known_on, records=records,
        gaps=() if load.consignee else (_("Nobody recorded to whom it went."),),
        parts=(
            Facts("", (
                (_("Order"), load.order),
                (_("Consignee"), consignee),
                (_("Vehicle"), load.vehicle),
                *(((_("Collected by"), load.collector if asked.reader.words else _("(kept from this reader)")),) if load.collector else ()),
                (_("Left"), f"{load.gone:%Y-%m-%d %H:%M %Z}"),
                (_("Dispatched by"), load.who),
                (_("Age of the list of holds"), _age(load)),
            )),
            Table("hulls", _("What is on it"), _("One hull."), (
                Column("pack", _("Pack"), _("Its pack's label."), wide=1.2),
                Column("plate", _("Plate"), _("The hull's plate."), wide=2),
                Column("model", _("Model"), _("What it is."), wide=1.6),
                Column("colour", _("Colour"), _("Its colour."), wide=1),
                Column("packed_by", _("Packed by"), _("Who packed it."), wide=1.4),
                Column("packed", _("Packed"), _("When it was packed."), "time", wide=1.4),
            ), tuple((p.code, h.plate, h.model, h.colour, p.who, p.when) for p in load.packs for h in p.hulls)),
            again(question, grouped(records), asked.reader),
        ),
        caution=caution(), plant=plant_name(asked.as_known_on),
    )  # fmt: skip


def _age(load: Load) -> str:
    if load.minutes is None:
        return _("not known: it was told later")
    return _("%(min)d min, no. %(n)d") % {"min": load.minutes, "n": load.list}


KIND = PaperKind(
    name="load",
    prefix="LP",
    title=gettext_lazy("Load paper"),
    asks={"load": gettext_lazy("the identifier of a load")},
    make=load_paper,
    page="load_paper",
)
