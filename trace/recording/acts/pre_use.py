"""The check of a machine before it is used: what was looked at, what was not in order, and whether it starts cold."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.first_shots import COLD_START
from trace.recording.floor.pre_use import CHECKED
from trace.recording.floor.standing import Floor

# What is looked at before an oven or an arm is used: common practice, no source. The maker's instructions come first.
CHECKS = {
    "guards": noop("guards, gates and doors"), "stop": noop("emergency stop"), "burner": noop("burner and flame"),
    "thermocouple": noop("thermocouple reads and is in date"), "rotation": noop("arm, carriage and stops"),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class CheckMachine(Command):
    """An oven or an arm was looked over before use. faults: what was not in order, words of CHECKS; cold: it starts
    cold. It starts, stops and permits nothing."""

    KIND = "machine_checked"
    NAME = noop("pre-use check")
    TASK = "oven"

    machine: str = scanned("oven", "arm")
    faults: tuple[str, ...] = ()
    cold: bool = False
    remark: str = words()

    @staticmethod
    def told(e: Told) -> str:
        bad = ", ".join(_(CHECKS.get(name, name)) for name in e.says["faults"])
        start = _(", cold start") if e.says["cold"] else ""
        if bad:
            return _("Pre-use check of %(machine)s: not in order: %(bad)s%(start)s") % {
                "machine": e.says["machine"], "bad": bad, "start": start,
            }  # fmt: skip
        return _("Pre-use check of %(machine)s: all as it should be%(start)s") % {
            "machine": e.says["machine"], "start": start,
        }  # fmt: skip


def check_facts(c: CheckMachine, floor: Floor) -> Facts:
    strange = [name for name in c.faults if name not in CHECKS]
    return {"typed": {"trouble": "Say what was not in order: choose from the list." if strange else ""}}


@handles(CheckMachine, check_facts)
def check(c: CheckMachine, floor: Floor, rows: Rows) -> str:
    key = floor[c.machine].key
    rows.resource("machine", key, CHECKED)
    if c.cold:
        rows.resource("machine", key, COLD_START)
    bad = ", ".join(CHECKS.get(name, "something") for name in c.faults)
    return f"{key} looked over{', cold start' if c.cold else ''}" + (f"; not in order: {bad}" if bad else "")
