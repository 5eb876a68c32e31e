"""The oven: an arm goes in, its stages are seen, it comes out and cools, for every mould on it."""

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor import Found
from trace.recording.oven import AbortCook, CookStage, EndCook, EndCooling, StartCook, loggers_of
from trace.scan.page import Action, Field, Row
from trace.scan.sight import Early, Next, Sight, Slot, Station
from trace.scan.stations.parts import TURNING, choice, press
from trace.speech import names_of

COOK_EVENTS = ("mould_closed", "cook_started", "cook_stage", "cook_ended", "cooled")
WORDS = {"cook_started": gettext_lazy("Into the oven"), "cook_stage": gettext_lazy("Stage"),
         "cook_ended": gettext_lazy("Out of the oven"), "cooled": gettext_lazy("Cooled"),
         "mould_closed": gettext_lazy("Closed")}  # fmt: skip


def slots(sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("arm", ("arm",), _("Scan the arm or carriage"), clears=("moulds", "units", "loggers")),
        Slot("moulds", ("mould",), _("Scan every mould on it"), many=True),
        Slot("oven", ("oven",), _("Scan the oven"), clears=("arm_rpm", "plate_rpm")),
        Slot("loggers", ("logger",), _("Scan the logger"), many=True, optional=True),
        Slot("units", ("moulding", "part", "hull"), _("Scan the moulding to cook again"), many=True, optional=True),
    )


def stages(sight: Sight) -> set[str]:
    return {str((m.mould or {}).get("stage", "empty")) for m in sight.many("moulds")}


def recipe(sight: Sight) -> dict[str, Any]:
    """The cook of what is in the first mould, or of the first moulding cooked again."""
    units = [m.load for m in sight.many("moulds") if m.load] + [u.unit for u in sight.many("units") if u.unit]
    about = units[0].about if units else {}
    found: dict[str, Any] = sight.plant.body("product", about.get("product")).get("cook", {})
    return found


def again(sight: Sight) -> bool:
    """Whether a moulding is in the oven for its second cook."""
    return any(u.unit and u.unit.status == "in oven again" for u in sight.many("units"))


def cooking(sight: Sight) -> bool:
    return "in oven" in stages(sight) or again(sight)


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("moulds") and not sight.text("units"):
        return ()
    found: list[Action] = []
    if cooking(sight):
        found += [press(f"stage {name}", name.capitalize(), "plain") for name in recipe(sight).get("stages", [])]
        found += [press("not seen", _("Drop not seen"), "stop"), press("stage stopped", _("Stopped"), "stop")]
        found += [press("end", _("Out of the oven"))]
    elif "cooling" in stages(sight):
        found += [press(f"stage {name}", name.capitalize(), "plain") for name in recipe(sight).get("cooling", [])]
        found += [press("cooled", _("Cooling is over"))]
    elif sight.text("oven") and sight.text("arm"):
        found += [press("start", _("Into the oven"))]
    if any(m.load for m in sight.many("moulds")):
        found += [press("abort", _("Give up this cook"), "stop")]
    return tuple(found)


def fields(sight: Sight) -> tuple[Field, ...]:
    if cooking(sight):
        low, high = (recipe(sight).get("piat_c") or ["?", "?"])[:2]
        names = [name for name in recipe(sight).get("stages", []) if name.startswith("drop")]
        window = _("peak: %(low)s to %(high)s °C") % {"low": low, "high": high}
        found = [Field("temperature", _("Air inside"), "temperature", unit="°C", hint=window)]
        if len(names) > 1:
            found.append(choice("drop", _("Which drop, if it was not seen"), [(n, n) for n in names], required=False))
        attached = [("attached", _("attached")), ("missing", _("missing"))]
        hint = _("Left open, it counts as missing: the moulding is held.")
        return (*found, choice("log", _("Oven log"), attached, required=False, hint=hint))
    if "cooling" in stages(sight):
        limit = _("at most %(limit)s °C") % {"limit": recipe(sight).get("demould_max_c", "?")}
        return (Field("temperature", _("Air inside"), "temperature", unit="°C", hint=limit),)
    if not sight.text("moulds") and not sight.text("units"):
        return ()
    motion = sight.body("oven").get("motion")
    found = [Field("set_c", _("Oven set"), "temperature", unit="°C")]
    if motion == "biaxial":
        found += [
            Field("arm_rpm", _("Arm"), "weight", unit="rpm"),
            Field("plate_rpm", _("Plate"), "weight", unit="rpm"),
        ]
    return tuple(found)


def commands(sight: Sight) -> Sequence[Command] | None:
    moulds, units, do = sight.codes("moulds"), sight.codes("units"), sight.do
    under = (*in_stage(sight, "in oven"), *(units if again(sight) else ()))
    read = sight.text("temperature")
    if do == "start":
        if not (sight.text("oven") and sight.text("arm")):
            return None
        return [
            StartCook(
                oven=sight.text("oven"), arm=sight.text("arm"), moulds=moulds, units=units,
                loggers=sight.codes("loggers"), arm_rpm=sight.text("arm_rpm"), plate_rpm=sight.text("plate_rpm"),
                set_c=sight.text("set_c"),
            )
        ]  # fmt: skip
    if not under:
        return None
    if do.startswith("stage "):
        stage = do.removeprefix("stage ")
        cools = stage in recipe(sight).get("cooling", [])
        where = in_stage(sight, "cooling") if cools else under
        return [CookStage(mould=code, stage=stage, temperature=read) for code in where] or None
    if do == "not seen":
        drops = [name for name in recipe(sight).get("stages", []) if name.startswith("drop")]
        stage = sight.text("drop") or (drops or ["drop"])[0]
        return [CookStage(mould=code, stage=stage, observed=False) for code in under]
    if do == "end":
        log = "attached" if sight.text("log") == "attached" else "missing"
        return [EndCook(mould=code, piat=read, log=log, stages=seen(sight, code)) for code in under]
    if do == "cooled":
        cooled = in_stage(sight, "cooling")
        return [EndCooling(mould=code, demould_c=read, stages=seen(sight, code)) for code in cooled] or None
    if do == "abort":
        return [AbortCook(mould=code) for code in moulds] or None
    return None


def early(sight: Sight) -> Early | None:
    """A mould that does not belong on this arm is stopped at its own scan, not when the whole arm goes in."""
    if not (sight.text("arm") and sight.text("moulds")) or stages(sight) - {"closed"} or again(sight):
        return None
    arm = StartCook(oven=sight.text("oven"), arm=sight.text("arm"), moulds=sight.codes("moulds"))
    return arm, ("MOULD-ON-OTHER-ARM",)


def in_stage(sight: Sight, stage: str) -> tuple[str, ...]:
    """The moulds of the arm that are in this stage, so that what was recorded for some is not asked again for them;
    all of them where none is, so that the answer says why."""
    codes = sight.codes("moulds")
    there = {code for code in codes if (sight.found[code].mould or {}).get("stage") == stage}
    return tuple(code for code in codes if code in there) or codes


def seen(sight: Sight, code: str) -> tuple[str, ...]:
    """The stages recorded for what is under a code, in order; a stage that nobody recorded was not seen."""
    found = sight.found[code]
    unit = found.load or found.unit
    told = [d.where for d in lookup.story_of(unit.id, ("cook_stage",))] if unit else []
    return tuple(told) or ("none recorded",)


def next_(sight: Sight) -> Next | None:
    detail = ", ".join(m.key for m in sight.many("moulds"))
    if cooking(sight):
        return Next(_("Press each stage when it is reached"), detail)
    if "cooling" in stages(sight):
        return Next(_("Read the air inside when rotation has stopped"), detail)
    if stages(sight) == {"to demould"}:
        return Next(_("Cooled. Scan the next arm"), detail)
    if sight.text("moulds") and sight.text("oven") and sight.text("arm"):
        wanted = [key for key in loggers_of(sight.many("moulds")) if key not in here(sight)]
        if wanted and stages(sight) == {"closed"}:
            return Next(_("Scan logger %(loggers)s, or the next mould") % {"loggers": ", ".join(wanted)}, detail)
        return Next(_("Scan the next mould on the arm, or send it in"), detail)
    return None


def rows(sight: Sight) -> tuple[Row, ...]:
    """What the records say of each mould's cook: stages with who and when, those not seen as open."""
    found: list[Row] = []
    for mould in (*sight.many("moulds"), *sight.many("units")):
        found += _rows_of(mould, sight)
    return (*found, *_loggers(sight))


def here(sight: Sight) -> list[str]:
    """The keys of the loggers scanned."""
    return [x.key for x in sight.many("loggers")]


def _loggers(sight: Sight) -> list[Row]:
    """Before the start: the loggers tied to the moulds of the arm, scanned or wanted, and any that is of none."""
    if stages(sight) - {"closed"}:
        return []
    own = loggers_of(sight.many("moulds"))
    rows_ = [Row(_("Logger %(key)s") % {"key": k}, ", ".join(of), k in here(sight)) for k, of in own.items()]
    strange = [key for key in here(sight) if key not in own and not sight.text("units")]
    return rows_ + [Row(_("Logger %(key)s") % {"key": k}, _("tied to no mould scanned here")) for k in strange]


def _rows_of(found: Found, sight: Sight) -> list[Row]:
    unit = found.load or found.unit
    name = found.key or found.code
    if unit is None:
        return [Row(name, _("empty"))]
    story = lookup.story_of(unit.id, COOK_EVENTS)
    names = names_of({d.person for d in story})
    rows_ = [
        Row(f"{name}: {WORDS[d.what]}" + (f" {d.where}" if d.where else ""), "", True, names.get(d.person, ""), d.when)
        for d in story
    ]
    told = {d.where for d in story}
    open_ = [stage for stage in recipe(sight).get("stages", []) if stage not in told] if cooking(sight) else []
    rows_ += [Row(f"{name}: {stage}", now=n == 0) for n, stage in enumerate(open_)]
    return rows_ or [Row(name, str((found.mould or {}).get("stage", "")))]


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    """The arm and its moulds stay until they are cooled; the oven stays for the day."""
    over = sight.do in ("cooled", "abort")
    names = ("oven",) if over else ("oven", "arm", "moulds", "units")
    return {name: sight.held[name] for name in names if sight.text(name)}


def place(sight: Sight) -> str:
    arm, oven = sight.key("arm"), sight.key("oven")
    return " · ".join(part for part in (_("Arm %(arm)s") % {"arm": arm} if arm else "", oven) if part)


OVEN = Station(
    slug="oven",
    title=gettext_lazy("Oven"),
    slots=slots,
    commands=commands,
    early=early,
    fields=fields,
    actions=actions,
    next=next_,
    rows=rows,
    place=place,
    after=after,
    caution=TURNING,
)
