"""What came of a hull after its making: the drops of its impact tests, and where its owners are."""

from collections.abc import Iterator

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.exports.paper import Column, Row, Table
from trace.genealogy.impact import series
from trace.genealogy.owners import USES, owners
from trace.recording.acts.complaint_words import word
from trace.recording.acts.impact import RESULTS
from trace.sheets.hulls.gathered import Gathered

VERDICTS = {"pass": noop("passed"), "fail": noop("failed"), "undecided": noop("not decided"), "": noop("open")}


def impact_table(gathered: Gathered) -> Table:
    """Every drop on the hull and on what it was made or cut from, series by series."""
    return Table("impact", _("Impact tests, drop by drop"), _("One drop of the dart."), (
        Column("when", _("When"), _("When it was dropped."), "time", wide=1.3),
        Column("specimen", _("Specimen"), _("What it was dropped on."), wide=1.7),
        Column("series", _("Series"), _("How the series ended that it belongs to."), wide=1),
        Column("mean", _("Mean, m"), _("Mean failure height of the series, by the up-and-down method of Dixon and Mood."), wide=0.8),
        Column("height", _("Height, m"), _("Height of the drop, as typed."), wide=0.8),
        Column("result", _("Result"), _("What became of the specimen."), wide=1.3),
        Column("temperature", _("°C"), _("Temperature of the specimen, as typed."), wide=0.7),
        Column("dart", _("Dart"), _("The dart."), wide=0.9),
        Column("who", _("Who"), _("Who dropped it."), wide=1.4),
    ), tuple(_drops(gathered)), _("none recorded"))  # fmt: skip


def _drops(gathered: Gathered) -> Iterator[Row]:
    at = {gathered.hull.id: gathered.hull} | {line.node.id: line.node for line in gathered.lines.values()}
    for unit, told in series(at, gathered.answer.as_known_on).items():
        for one in told:
            for drop in one.drops:
                yield (
                    drop.happened, at[unit].said, _(VERDICTS[one.verdict]), one.mean, drop.height,
                    word(RESULTS, drop.result), drop.temperature, drop.dart, gathered.known.person(drop.person),
                )  # fmt: skip


def owner_table(gathered: Gathered) -> Table:
    """Every registration that stands, without who it is: names can be erased, a paper is never changed."""
    told = owners([gathered.hull.id], gathered.answer.as_known_on).get(gathered.hull.id, [])
    return Table("owners", _("Owners on record (names are not printed)"), _("One registration."), (
        Column("told", _("Registered"), _("When it was recorded."), "time", wide=1.3),
        Column("owner", _("Owner"), _("The first purchaser, or a later owner."), wide=1.4),
        Column("sold", _("Sold"), _("The day of sale."), wide=1),
        Column("region", _("Region"), _("Where, in the shape of ISO 3166-2."), wide=1),
        Column("use", _("Use"), _("What the hull is used for."), wide=1.6),
    ), tuple(
        (one.told, _("first purchaser") if one.first else _("later owner"), one.sold or None, one.region or None, word(USES, one.use) or None)
        for one in told
    ), _("nobody is registered"))  # fmt: skip
