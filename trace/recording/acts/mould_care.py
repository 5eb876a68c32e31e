"""Work on a mould between loads: serviced, vent changed, coated, parts changed, refurbished; its first-off passed."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels.rows import Rows
from trace.recording.acts.loading import agent_facts
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.mould_life import AGENT, COATED, FIRST_OFF, REFURBISHED, life_of, made_on
from trace.recording.floor.moulds import DONE, mould_facts, mould_row
from trace.recording.floor.standing import Floor

COAT = "release coat"
WORK_WORDS = {
    "service": noop("cleaned and serviced"), "vent": noop("vent changed"), COAT: noop("release coat put on"),
    "parts": noop("parts changed"), "refurbished": noop("back from refurbishment"),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class CareForMould(Command):
    """Work done on a mould. done: words of WORK_WORDS; those that the mould's plant data count shots for start again.

    agent: what coats it. coat: the number of the coat, "" for one more than the last. what: which parts, in words.
    """

    KIND = "mould_cared"
    NAME = noop("work on a mould")

    mould: str = scanned("mould")
    done: tuple[str, ...] = ()
    agent: str = scanned("container", optional=True)
    coat: str = ""
    what: str = words()

    @staticmethod
    def told(e: Told) -> str:
        said = ", ".join(_(WORK_WORDS.get(name, name)) for name in e.says["done"])
        return _("Mould %(mould)s: %(work)s") % {"mould": e.says["mould"], "work": said}


def _trouble(c: CareForMould) -> str:
    """Why what was said cannot be read, or ""."""
    strange = [name for name in c.done if name not in WORK_WORDS]
    if strange or not c.done:
        return "Say what was done: choose from the list."
    if "parts" in c.done and not c.what.strip():
        return "Write which parts were changed."
    number = c.coat.strip()
    if number and not (number.isascii() and number.isdigit() and 1 <= int(number) <= 999):
        return "The coat's number is a whole number from 1 to 999: type it again, or leave it out."
    return ""


def care_facts(c: CareForMould, floor: Floor) -> Facts:
    facts = mould_facts(floor[c.mould], floor)
    return {
        "typed": {"trouble": _trouble(c)},
        "mould": facts,
        "agent": agent_facts(c.agent, floor),
        "care": {
            "loaded": facts["stage"] != "empty" and not facts["later"],
            "no_agent": COAT in c.done and not c.agent,
            "no_coat": bool(c.agent) and COAT not in c.done,
        },
    }


@handles(CareForMould, care_facts)
def care(c: CareForMould, floor: Floor, rows: Rows) -> str:
    mould = floor[c.mould]
    rows.mould(mould.key, **mould_row(mould, **{DONE[name]: 0 for name in c.done if name in DONE}))
    rows.resource("mould", mould.key, "mould")
    said = ", ".join(WORK_WORDS.get(name, "something") for name in c.done)
    if COAT in c.done:
        said += coated(c.agent, floor, rows, mould.key)
        # What a load was made ready on never changes: whoever looks for hulls by their coat is told of the doubt.
        for load in made_on(mould, floor):
            rows.discrepancy("made ready on a release coat that was told of only later", load)
    if "refurbished" in c.done:
        rows.resource("mould", mould.key, REFURBISHED)
        said += "; its first-off is due"
    return f"{mould.key}: {said}"


def coated(agent: str, floor: Floor, rows: Rows, mould: str) -> str:
    """A mould wears a new coat of what was scanned; words for it."""
    rows.resource("mould", mould, COATED)
    found = floor[agent] if agent else None
    if found is None or found.unit is None:
        return ""
    rows.touch(found.unit.uid, AGENT)
    return f" of {found.unit.about.get('material')} lot {found.unit.lot_no}"


@dataclass(frozen=True, kw_only=True)
class PassFirstOff(Command):
    """The first moulding since a mould was refurbished was looked at and is good: the mould may be used."""

    KIND = "first_off_passed"
    NAME = noop("pass a first-off")
    DECISION = True

    mould: str = scanned("mould")
    unit: str = scanned("moulding", "part", "hull")
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("First-off of mould %(mould)s passed") % {"mould": e.says["mould"]}


def first_off_facts(c: PassFirstOff, floor: Floor) -> Facts:
    mould, unit = floor[c.mould], floor[c.unit].unit
    life = life_of(mould, floor)
    about = unit.about if unit else {}
    return {
        "mould": mould_facts(mould, floor),
        "first_off": {
            "not_due": not (life.first_off or life.first_mounted),
            "name": floor[c.unit].name,
            "other": about.get("mould") != mould.key,
            "made_in": about.get("mould") or "no mould that is recorded",
            "before": bool(unit and life.since and unit.made < life.since),
            "held": bool(unit and unit.holds),
            "aborted": bool(unit and unit.status == "scrapped"),
        },
    }


@handles(PassFirstOff, first_off_facts)
def pass_first_off(c: PassFirstOff, floor: Floor, rows: Rows) -> str:
    mould, unit = floor[c.mould], floor[c.unit].unit
    rows.resource("mould", mould.key, FIRST_OFF)
    if unit is not None:
        rows.touch(unit.uid, FIRST_OFF)
    return f"first-off of {mould.key} passed with {floor[c.unit].name}"
