"""The oven: an arm goes in, its stages are seen, it comes out and cools, for every mould on it."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.lookup import Done
from trace.recording.acts.cook import AbortCook, CookStage, EndCook, EndCooling
from trace.recording.acts.oven import StartCook, loggers_of
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor.standing import Found
from trace.scan.page import Action, Field, Row
from trace.scan.sight import MADE, MOULDING, Early, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import TURNING, choice, off, press
from trace.speech import names_of

COOK_EVENTS = ("mould_closed", "cook_started", "cook_stage", "cook_ended", "cooled")
WORDS = {"cook_started": gettext_lazy("Into the oven"), "cook_stage": gettext_lazy("Stage"),
         "cook_ended": gettext_lazy("Cook ended, out of the oven"), "cooled": gettext_lazy("Cooled"),
         "mould_closed": gettext_lazy("Closed")}  # fmt: skip
# What an end of a cook says of its stages where nobody recorded one.
NONE_RECORDED = "none recorded"


def slots(sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("arm", ("arm",), _("Scan the arm or carriage"), clears=("moulds", "units", "loggers")),
        Slot("moulds", ("mould",), _("Scan every mould on it"), many=True),
        Slot("oven", ("oven",), _("Scan the oven"), clears=("arm_rpm", "plate_rpm")),
        Slot("loggers", ("logger",), _("Scan the logger"), many=True, optional=True),
        Slot("units", ("moulding", "part", "hull"), _("Scan the moulding to cook again"), many=True, optional=True),
    )


def stage_of(found: Found) -> str:
    """Where a mould stands, or a moulding cooked again."""
    if found.unit is not None:
        return str(found.unit.status).removesuffix(" again")
    return str((found.mould or {}).get("stage", "empty"))


def on_arm(sight: Sight) -> tuple[str, ...]:
    """The codes of everything on the arm."""
    return (*sight.codes("moulds"), *sight.codes("units"))


def stages(sight: Sight) -> set[str]:
    return {stage_of(sight.found[code]) for code in on_arm(sight)}


def recipe_of(sight: Sight, found: Found) -> dict[str, Any]:
    """The cook of what is under a code."""
    unit = found.load or found.unit
    cook: dict[str, Any] = sight.plant.product_of(unit.about if unit else {}).get("cook", {})
    return cook


def recipe(sight: Sight) -> dict[str, Any]:
    """The cook of the arm: that of the first mould with a load, or of the first moulding cooked again."""
    cooks = [recipe_of(sight, found) for found in (*sight.many("moulds"), *sight.many("units"))]
    return next((cook for cook in cooks if cook), {})


def drops(cook: dict[str, Any]) -> list[str]:
    return [str(name) for name in cook.get("stages", []) if str(name).startswith("drop")]


def cooking(sight: Sight) -> bool:
    return "in oven" in stages(sight)


def traces(sight: Sight) -> dict[str, list[str]]:
    """The codes of the arm by whose trace they have: one logger, one peak and one log.

    By the ending of their fields' names: "" where all share one logger, else the place of the first on the arm.
    """
    endings: dict[str, str] = {}
    found: dict[str, list[str]] = {}
    for slot in ("moulds", "units"):
        for n, code in enumerate(sight.codes(slot)):
            logger = str(sight.found[code].body.get("logger") or code)
            found.setdefault(endings.setdefault(logger, f"_{slot}{n}"), []).append(code)
    return found if len(found) > 1 else {"": list(on_arm(sight))}


def told(sight: Sight, name: str, code: str) -> str:
    """What was typed or chosen in a field for what is under this code."""
    return next((sight.text(name + ending) for ending, codes in traces(sight).items() if code in codes), "")


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("moulds") and not sight.text("units"):
        return ()
    found: list[Action] = []
    if cooking(sight):
        due = next_stage(sight)
        found += [_stage(name, due) for name in recipe(sight).get("stages", [])]
        if drops(recipe(sight)):
            found += [press("not seen", _("Drop not seen"), "stop", below=not due.startswith("drop"))]
        found += [_stopped()]
        logs = tuple(f"log{ending}" for ending in traces(sight))
        end = _("End of the cook: out of the oven")
        found += [press("end", end, below=bool(due), bare=False, needs=logs)]
    elif "cooling" in stages(sight):
        due = next_stage(sight)
        found += [_stage(name, due) for name in recipe(sight).get("cooling", [])]
        found += [_stopped(), press("cooled", _("Cooling is over"), below=bool(due))]
    elif sight.text("oven") and sight.text("arm"):
        found += [press("start", _("Into the oven"))]
    if begun(sight):
        found += [press("abort", _("Give up this cook"), "stop", below=True)]
    gathered = (*sight.many("moulds"), *sight.many("units"), *sight.many("loggers"))
    return (*found, *(off(one.code, name=one.key) for one in gathered))


def begun(sight: Sight) -> tuple[str, ...]:
    """The moulds whose cook has begun; a load that was not cooked is given up where it is loaded."""
    return tuple(m.code for m in sight.many("moulds") if stage_of(m) in ("in oven", "cooling", "to demould"))


def next_stage(sight: Sight) -> str:
    """The stage that is due: the first of the recipe that is not recorded for all on the arm; "" when all are."""
    name = "in oven" if cooking(sight) else "cooling"
    wanted = recipe(sight).get("stages" if cooking(sight) else "cooling", [])
    known = [{d.where for d in recorded(sight, code)} for code in in_stage(sight, name)]
    return next((str(stage) for stage in wanted if not all(stage in one for one in known)), "")


def asks(sight: Sight) -> tuple[str, ...]:
    """What is read at the end of the cook, and of cooling, once every stage is recorded."""
    if not (cooking(sight) or "cooling" in stages(sight)) or next_stage(sight):
        return ()
    endings = traces(sight)
    names = [f"temperature{ending}" for ending in endings]
    return (*names, *(f"log{ending}" for ending in endings)) if cooking(sight) else tuple(names)


def _stage(name: str, due: str) -> Action:
    """The stage that is due is the one to press; a bare Enter presses none: somebody has to have seen it."""
    words = _("Stage: %(stage)s") % {"stage": name}
    return press(f"stage {name}", words, "main" if name == due else "plain", below=name != due, bare=False)


def _stopped() -> Action:
    return press("stage stopped", _("Machine stopped"), "stop", below=False)


def _stop_field() -> Field:
    hint = _("If it stands still. Left open, the length is missing: press Machine stopped again with it.")
    return Field("minutes", _("Stopped for"), "count", unit="min", hint=hint)


def fields(sight: Sight) -> tuple[Field, ...]:
    if cooking(sight):
        found = read_off(sight, "in oven")
        names = drops(recipe(sight))
        if len(names) > 1:
            hint = _("Left open, it is the next one that is not recorded.")
            which = _("Which drop, if it was not seen")
            found.append(choice("drop", which, [(n, n) for n in names], required=False, hint=hint))
        return (*found, _stop_field())
    if "cooling" in stages(sight):
        return (*read_off(sight, "cooling"), _stop_field())
    if not sight.text("moulds") and not sight.text("units"):
        return ()
    motion = sight.body("oven").get("motion")
    found = [Field("set_c", _("Oven set"), "temperature", unit="°C", hint=_window(sight, "set_c"))]
    if motion == "biaxial":
        found += [
            Field("arm_rpm", _("Arm"), "weight", unit="rpm", hint=_window(sight, "arm_rpm")),
            Field("plate_rpm", _("Plate"), "weight", unit="rpm", hint=_window(sight, "plate_rpm")),
        ]
    return tuple(found)


def _window(sight: Sight, name: str) -> str:
    """What the recipe gives for a setting, or ""."""
    window = recipe(sight).get(name)
    return _("%(low)s to %(high)s") % {"low": window[0], "high": window[1]} if window else ""


def read_off(sight: Sight, stage: str) -> list[Field]:
    """What is read of each trace: the air inside, and at the end of the cook whether its log is there."""
    found: list[Field] = []
    for ending, codes in traces(sight).items():
        these = [sight.found[code] for code in codes if code in in_stage(sight, stage)]
        if not these:
            continue
        cook = recipe_of(sight, these[0])
        of = " " + ", ".join(one.key or one.name for one in these) if ending else ""
        air = _("Air inside") + of
        if stage == "cooling":
            limit = _("at most %(limit)s °C") % {"limit": cook.get("demould_max_c", "?")}
            found.append(
                Field(
                    f"temperature{ending}",
                    air,
                    "temperature",
                    unit="°C",
                    hint=limit,
                    ask=_("Read the air inside") + of,
                    without=_("It was not read"),
                )
            )
            continue
        low, high = (cook.get("piat_c") or ["?", "?"])[:2]
        window = _("peak: %(low)s to %(high)s °C") % {"low": low, "high": high}
        attached = [("attached", _("attached")), ("missing", _("missing"))]
        hint = _("Without it the moulding is held.")
        found += [
            Field(
                f"temperature{ending}",
                air,
                "temperature",
                unit="°C",
                hint=window,
                ask=_("Read the peak of the air inside") + of,
                without=_("It was not read"),
            ),
            replace(
                choice(f"log{ending}", _("Oven log") + of, attached, required=False, hint=hint),
                ask=_("Is the oven log there?") + of,
            ),
        ]
    return found


def _start(sight: Sight, moulds: tuple[str, ...], units: tuple[str, ...]) -> Sequence[Command] | None:
    if not (sight.text("oven") and sight.text("arm")):
        return None
    return [
        StartCook(
            oven=sight.text("oven"), arm=sight.text("arm"), moulds=moulds, units=units,
            loggers=sight.codes("loggers"), arm_rpm=sight.text("arm_rpm"), plate_rpm=sight.text("plate_rpm"),
            set_c=sight.text("set_c"),
        )
    ]  # fmt: skip


def _stage_seen(sight: Sight, stage: str, under: tuple[str, ...]) -> Sequence[Command]:
    """A stop is of all that is on the arm; a stage of cooling is of what cools, any other of what is in the oven."""
    if stage == "stopped":
        where = tuple(c for c in on_arm(sight) if stage_of(sight.found[c]) in ("in oven", "cooling")) or under
        return [CookStage(mould=code, stage="stopped", minutes=sight.text("minutes")) for code in where]
    where = in_stage(sight, "cooling") if stage in recipe(sight).get("cooling", []) else under
    return [CookStage(mould=c, stage=stage, temperature=told(sight, "temperature", c)) for c in where]


def commands(sight: Sight) -> Sequence[Command] | None:
    moulds, units, do = sight.codes("moulds"), sight.codes("units"), sight.do
    under = in_stage(sight, "in oven")
    if do == "start":
        return _start(sight, moulds, units)
    if not under:
        return None
    if do.startswith("stage "):
        return _stage_seen(sight, do.removeprefix("stage "), under)
    if do == "not seen":
        return [CookStage(mould=code, stage=drop_of(sight, code), observed=False) for code in under]
    if do == "end":
        return [
            EndCook(mould=code, piat=told(sight, "temperature", code), log=_log(sight, code), stages=seen(sight, code))
            for code in under
        ]
    if do == "cooled":
        return [
            EndCooling(mould=code, demould_c=told(sight, "temperature", code), stages=seen(sight, code))
            for code in in_stage(sight, "cooling")
        ]
    if do == "abort":
        return [AbortCook(mould=code) for code in begun(sight)] or None
    return None


def early(sight: Sight) -> Early | None:
    """A mould that does not belong on this arm is stopped at its own scan, not when the whole arm goes in."""
    moulds = {stage_of(mould) for mould in sight.many("moulds")}
    if not (sight.text("arm") and moulds) or moulds - {"closed"} or cooking(sight):
        return None
    arm = StartCook(oven=sight.text("oven"), arm=sight.text("arm"), moulds=sight.codes("moulds"))
    return arm, ("MOULD-ON-OTHER-ARM",)


def _log(sight: Sight, code: str) -> str:
    return "attached" if told(sight, "log", code) == "attached" else "missing"


def in_stage(sight: Sight, stage: str) -> tuple[str, ...]:
    """What of the arm is in this stage, so that what was recorded for some is not asked again for them; all of it
    where nothing is, so that the answer says why."""
    codes = on_arm(sight)
    return tuple(code for code in codes if stage_of(sight.found[code]) == stage) or codes


def recorded(sight: Sight, code: str) -> list[Done]:
    """The stages recorded of the cook that what is under a code is in, oldest first."""
    found = sight.found[code]
    unit = found.load or found.unit
    if unit is None:
        return []
    if f"stages of {unit.id}" not in sight.looked:
        sight.looked[f"stages of {unit.id}"] = lookup.history_of(unit.id, ("cook_started", "cook_stage"))
    story: list[Done] = sight.looked[f"stages of {unit.id}"]
    begun = max((n for n, d in enumerate(story) if d.what == "cook_started"), default=-1)
    return [d for d in story[begun + 1 :] if d.what == "cook_stage"]


def seen(sight: Sight, code: str) -> tuple[str, ...]:
    """The stages seen of what is under a code, in order. One that nobody recorded was not, nor one of which the last
    record says so."""
    story = recorded(sight, code)
    last = {d.where: d.seen for d in story}
    return tuple(name for name in dict.fromkeys(d.where for d in story if d.seen) if last[name]) or (NONE_RECORDED,)


def drop_of(sight: Sight, code: str) -> str:
    """The drop that was not seen: the one chosen, else the next that is not recorded; "" where that is not known."""
    names = drops(recipe_of(sight, sight.found[code]))
    known = {d.where for d in recorded(sight, code)}
    open_ = names if len(names) == 1 else [name for name in names if name not in known]
    return sight.text("drop") or next(iter(open_), "")


def next_(sight: Sight) -> Next | None:
    detail = ", ".join(m.key for m in sight.many("moulds"))
    if cooking(sight) or "cooling" in stages(sight):
        return Next(_next_stage_words(sight, cooking(sight)), detail)
    if stages(sight) == {"to demould"}:
        return Next(_("Cooled. Scan the next arm"), detail, "scan")
    if sight.text("moulds") and sight.text("oven") and sight.text("arm"):
        wanted = [key for key in loggers_of(sight.many("moulds")) if key not in here(sight)]
        if wanted and stages(sight) == {"closed"}:
            words = _("Scan logger %(loggers)s, or the next mould") % {"loggers": ", ".join(wanted)}
            return Next(words, detail, "scan")
        return Next(_("Scan the next mould on the arm, or send it in"), detail)
    return None


def _next_stage_words(sight: Sight, in_oven: bool) -> str:
    due = next_stage(sight)
    if in_oven and due:
        if due == "heat":
            return _("Press when heating begins")
        return _("Press %(stage)s when it happens") % {"stage": due}
    if in_oven:
        return _("All stages are recorded: end the cook when the arm comes out")
    if due:
        return _("Press %(stage)s when it begins") % {"stage": due}
    if any(sight.text(f"temperature{ending}") for ending in traces(sight)):
        return _("The air inside was read: cooling is over when rotation has stopped")
    return _("Read the air inside when rotation has stopped")


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
    story = lookup.history_of(unit.id, COOK_EVENTS)
    names = names_of({d.person for d in story})
    rows_ = [
        Row(f"{name}: {WORDS[d.what]} {d.where}".strip(), "" if d.seen else _("not seen"), d.seen,
            names.get(d.person, ""), d.when)
        for d in story
    ]  # fmt: skip
    known = {d.where for d in story}
    open_ = [stage for stage in recipe(sight).get("stages", []) if stage not in known] if cooking(sight) else []
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
    home=Home(MOULDING, 40, gettext_lazy("Send an arm in and bring it out")),
    roles=("operator", "lead"),
    slots=slots,
    commands=commands,
    early=early,
    fields=fields,
    asks=asks,
    thing="arm",
    actions=actions,
    next=next_,
    rows=rows,
    place=place,
    after=after,
    stays=("oven",),
    caution=TURNING,
    stops=MADE,
)
