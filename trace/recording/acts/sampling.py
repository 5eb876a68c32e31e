"""Retained samples: taken out of a container, kept on a shelf until a day, used in a test or thrown away."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.rows import Rows
from trace.recording.acts.complaint_words import word
from trace.recording.acts.draws import draw_out, out_facts
from trace.recording.acts.goods_in import date_trouble
from trace.recording.acts.scrapping import went_out
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor import words as say
from trace.recording.floor.sources import issue_codes
from trace.recording.floor.standing import Floor

# How long a sample is kept where the plant's setting "sample days" does not say: common practice, no source.
SAMPLE_DAYS = 730
KEPT = "kept"
ENDS = {"used": noop("used in a test"), "discarded": noop("discarded")}


@dataclass(frozen=True, kw_only=True)
class TakeSample(Command):
    """So much (amount, in kg or pieces as typed) is kept of what is in a container, under a label of its own.

    place: the shelf. discard: the last day on which it is kept, "" for the plant's own time.
    """

    KIND = "sampled"
    NAME = noop("take a sample")
    AS_IT_WAS = ("box",)

    box: str = scanned("container", "vessel", "roll", "returnable", "tub", "drop_box")
    amount: str
    place: str = scanned("place", optional=True)
    discard: str = ""

    @staticmethod
    def told(e: Told) -> str:
        return _("Sample taken: %(much)s from %(box)s") % {
            "much": went_out(e, "sample"), "box": printed(e.says["box"]),
        }  # fmt: skip


def sample_facts(c: TakeSample, floor: Floor) -> Facts:
    facts = out_facts(floor[c.box], floor, c.amount, everything=False)
    trouble = facts["typed"]["trouble"] or date_trouble("the day until which it is kept", c.discard)
    if not trouble and c.discard and date.fromisoformat(c.discard) < floor.day:
        trouble = f"{c.discard} is over: write the last day on which the sample is kept."
    facts["typed"]["trouble"] = trouble
    return facts


def _kept_until(c: TakeSample, floor: Floor) -> str:
    if c.discard:
        return c.discard
    days = int(str(floor.plant.setting("sample days", SAMPLE_DAYS)))
    return (floor.day + timedelta(days=days)).isoformat()


@handles(TakeSample, sample_facts)
def take_sample(c: TakeSample, floor: Floor, rows: Rows) -> str:
    found = floor[c.box]
    about = found.unit.about if found.unit else {}
    until = _kept_until(c, floor)
    sample = rows.unit(
        "sample", lot_no=found.unit.lot_no if found.unit else None,
        about={"material": about.get("material"), "supplier": about.get("supplier"), "discard": until},
        status=KEPT, place=floor[c.place].key or None,
    )  # fmt: skip
    much = draw_out(rows, floor, found, sample, "sample", c.amount, everything=False)
    code = issue_codes(1)[0]
    rows.label(code, unit=sample)
    of = say.lot_name(about, found.unit.lot_no if found.unit else None)
    return f"{much} of {of} kept as sample {printed(code)} until {until}"


@dataclass(frozen=True, kw_only=True)
class EndSample(Command):
    """A sample is kept no longer. how: used (up in a test) or discarded."""

    KIND = "sample_ended"
    NAME = noop("end a sample")

    sample: str = scanned("sample")
    how: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Sample %(code)s: %(how)s") % {
            "code": printed(e.says["sample"]), "how": word(ENDS, e.says["how"]),
        }  # fmt: skip


def end_sample_facts(c: EndSample, floor: Floor) -> Facts:
    unit = floor[c.sample].unit
    until = str(unit.about.get("discard") or "") if unit else ""
    return {
        "typed": {"trouble": "" if c.how in ENDS else "Say whether it was used in a test or discarded."},
        "sample": {
            "name": floor[c.sample].name,
            "gone": unit is not None and unit.status != KEPT,
            "status": (unit.status if unit else None) or "unknown",
            "early": c.how == "discarded" and until > floor.day.isoformat(),
            "until": until,
        },
    }


@handles(EndSample, end_sample_facts)
def end_sample(c: EndSample, floor: Floor, rows: Rows) -> str:
    found = floor[c.sample]
    if found.unit is not None:
        rows.status(found.unit.uid, ENDS[c.how])
    return f"sample {found.name}: {ENDS[c.how]}"
