"""Loading a mould: once it is open, whatever is scanned decides what is recorded, in any order, by several people."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.codes.positions import in_order, named_together
from trace.drawings import MouldPlan, PositionState, station_plan
from trace.lookup import Done
from trace.recording.acts.cook import AbortCook
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould, in_place, missing_of
from trace.recording.acts.tipping import TipTub
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor.moulds import nothing_in
from trace.recording.floor.standing import Found
from trace.scan.page import Action, Field, Row
from trace.scan.sight import MADE, MATERIALS, MOULDING, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HOT, material_words, press
from trace.speech import names_of

CARE = (("service", "service_every", "since_service"), ("vent", "vent_every", "since_vent"),
        ("release coat", "release_every", "since_release"))  # fmt: skip


def stage(sight: Sight) -> str:
    """empty, open, closed, in oven, cooling, to demould; "" while no mould is scanned."""
    found = sight.one("mould")
    return str((found.mould or {}).get("stage", "empty")) if found else ""


def product(sight: Sight) -> dict[str, Any]:
    """The product of the open load, in the version for which the mould was opened."""
    found = sight.one("mould")
    load = found.load if found else None
    return sight.plant.product_of(load.about if load else {})


def slots(sight: Sight) -> tuple[Slot, ...]:
    mould = Slot("mould", ("mould",), _("Scan the mould"), clears=("order", "arm", "agent"))
    if stage(sight) == "open":
        return (
            mould,
            Slot("tub", ("tub", "drop_box"), _("Scan the tub"), optional=True),
            Slot("box", ("container", "roll"), _("Scan the insert box or graphic pack"), optional=True),
            # Made ready for the wrong order or on another arm: while nothing is in it, another scan puts that right.
            Slot("order", ("works_order",), "", optional=True),
            Slot("arm", ("arm",), "", optional=True),
        )
    order, arm = (
        Slot("order", ("works_order",), _("Scan the works order")),
        Slot("arm", ("arm",), _("Scan the arm or carriage")),
    )
    # Boxes and tubs are taken all the same, and answered: the mould is not open.
    tub = Slot("tub", ("tub", "drop_box"), "", optional=True)
    if stage(sight) in ("", "empty"):
        agent = Slot("agent", ("container",), _("Scan the release agent"), optional=True)
        return (mould, order, arm, agent, tub, Slot("pack", ("roll",), "", optional=True))
    return (mould, order, arm, tub, Slot("box", ("container", "roll"), "", optional=True))


def take(sight: Sight, found: Found) -> str | None:
    """Before a mould is scanned nothing but moulds, orders and arms has a place here."""
    if not sight.text("mould") and not found.kinds & {"mould", "works_order", "arm"}:
        return ""
    return None


def is_graphic(sight: Sight, found: Found) -> bool:
    material = found.unit.about.get("material") if found.unit else None
    return sight.plant.body("material", material).get("kind") == "graphic" or "roll" in found.kinds


def commands(sight: Sight) -> Sequence[Command] | None:
    mould = sight.text("mould")
    if not mould:
        return None
    if sight.text("tub"):
        return [TipTub(mould=mould, tub=sight.text("tub"))]
    if sight.text("pack"):
        return [PlaceGraphic(mould=mould, pack=sight.text("pack"), zone=next(iter(positions(sight)), ""))]
    box = sight.one("box")
    if box is not None:
        code = sight.text("box")
        if is_graphic(sight, box):
            return [PlaceGraphic(mould=mould, pack=code, zone=next(iter(positions(sight)), ""))]
        return [PlaceInserts(mould=mould, box=code, positions=positions(sight))]
    if sight.do == "abort":
        return [AbortCook(mould=mould)]
    if opened_for(sight) != made_ready_for(sight):
        order, arm = opened_for(sight)
        return [ReadyMould(mould=mould, order=order, arm=arm)]
    if sight.do == "close":
        return [CloseMould(mould=mould, counted=sight.text("counted"))]
    if stage(sight) != "open" and sight.text("order") and sight.text("arm"):
        done = tuple(name for name, _limit, _count in CARE if sight.text(care_field(name)) == "yes")
        return [
            ReadyMould(
                mould=mould, order=sight.text("order"), arm=sight.text("arm"), done=done, agent=sight.text("agent")
            )
        ]
    return None


def made_ready_for(sight: Sight) -> tuple[str, str]:
    """The order and the arm of an open mould, by their keys."""
    found = sight.one("mould")
    about = found.load.about if found and found.load and stage(sight) == "open" else {}
    return str(about.get("order", "")), str(about.get("arm", ""))


def opened_for(sight: Sight) -> tuple[str, str]:
    """The same after the scan just made: an order or an arm scanned at an open mould takes the place of its own."""
    order, arm = made_ready_for(sight)
    if not order or not sight.typed:
        return order, arm
    scanned = {name: sight.key(name) for name in ("order", "arm") if sight.text(name) == sight.typed}
    return scanned.get("order", order), scanned.get("arm", arm)


def objection(sight: Sight) -> str:
    """The order or the arm that an open mould has already changes nothing."""
    if (
        stage(sight) == "open"
        and sight.typed in (sight.text("order"), sight.text("arm"))
        and opened_for(sight) == made_ready_for(sight)
    ):
        order, arm = made_ready_for(sight)
        return _("Mould %(mould)s is open for %(order)s on %(arm)s already: go on loading.") % {
            "mould": sight.key("mould"), "order": order, "arm": arm,
        }  # fmt: skip
    return ""


def positions(sight: Sight) -> tuple[str, ...]:
    """Positions typed, as S1 S2 or S1, S2, in the plan's own spelling; none: all open ones that the part fits."""
    plan, typed = product(sight), sight.text("positions")
    names = {name.upper(): name for name in (*plan.get("inserts", {}), *plan.get("graphics", {}))}
    parts = [typed] if typed.upper() in names else typed.replace(",", " ").split()
    return tuple(names.get(part.upper(), part) for part in parts)


def care_field(name: str) -> str:
    return "done_" + name.replace(" ", "_")


def fields(sight: Sight) -> tuple[Field, ...]:
    now = stage(sight)
    if now == "open":
        plan = product(sight)
        found = []
        if plan.get("inserts") or plan.get("graphics"):
            found.append(
                Field("positions", _("Only these positions"), hint=_("as S1 S2 or PORT; empty: all open ones it fits"))
            )
            if plan.get("inserts"):
                found.append(
                    Field(
                        "counted",
                        _("Inserts counted in the mould"),
                        "count",
                        required=True,
                        unit=_("pieces"),
                        ask=_("Count the inserts"),
                        hint=_("Look into the mould, with the plan in view. Then it closes."),
                        gives=_("Close the mould"),
                        enter="close",
                    )
                )
        return tuple(found)
    mould = sight.one("mould")
    if mould is None or now != "empty":
        return ()
    words = {"service": _("Serviced now"), "vent": _("Vent changed now"), "release coat": _("Release coat put on now")}
    state = mould.mould or {}
    return tuple(
        Field(care_field(name), words[name], "checkbox")
        for name, limit, count in CARE
        if mould.body.get(limit) is not None and int(state.get(count, 0)) >= int(mould.body[limit])
    )


def missing(sight: Sight) -> dict[str, list[str]]:
    found = sight.one("mould")
    return missing_of(found.load if found else None, product(sight))


def asks(sight: Sight) -> tuple[str, ...]:
    """The count, once everything is in: Enter then closes the mould."""
    return ("counted",) if stage(sight) == "open" and not any(missing(sight).values()) else ()


def again(sight: Sight, found: Found) -> bool:
    """Whether the pack just scanned is wanted for another zone of the same artwork."""
    if stage(sight) != "open" or found.unit is None:
        return False
    art, plan = sight.plant.body("material", found.unit.about.get("material")), product(sight).get("graphics", {})
    return any(plan[zone]["artwork"] == art.get("artwork") for zone in missing(sight)["graphic"])


def actions(sight: Sight) -> tuple[Action, ...]:
    give_up = press("abort", _("Give up this load"), "stop", below=True)
    if stage(sight) == "closed":
        return (give_up,)
    if stage(sight) != "open":
        return ()
    whole = not any(missing(sight).values())
    return (press("close", _("Close the mould"), "main" if whole else "plain", below=not whole), give_up)


def next_(sight: Sight) -> Next | None:
    now = stage(sight)
    if now == "open":
        return _next_open(sight)
    if now in ("", "empty"):
        return None
    words = {
        "closed": _("Closed. It goes to the oven; scan the next mould"),
        "in oven": _("It is in the oven; scan another mould"),
        "cooling": _("It is cooling; scan another mould"),
        "to demould": _("It waits to be demoulded; scan another mould"),
    }
    return Next(words.get(now, _("Scan the mould")), sight.key("mould"), "scan")


def _next_open(sight: Sight) -> Next:
    found, then = sight.one("mould"), _next_in(sight)
    if found is None or not nothing_in(found):
        return then
    order = _("Nothing is in it yet: made ready for %(order)s; scan another order to change that.")
    return Next(then.sentence, f"{then.detail} {order % {'order': made_ready_for(sight)[0]}}".strip(), then.how)


def _next_in(sight: Sight) -> Next:
    plan, open_ = product(sight), missing(sight)
    found = sight.one("mould")
    colour = str(found.load.about.get("colour", "")) if found and found.load else ""
    if open_["graphic"]:
        return _next_graphic(plan, open_["graphic"][0])
    if open_["insert"]:
        return _next_insert(plan, open_["insert"])
    if open_["layer"]:
        return _next_layer(plan, open_["layer"][0], colour)
    count = _("Count the inserts once more with the plan in view and type how many.") if plan.get("inserts") else ""
    return Next(_("Everything is in: close the mould"), count)


def _next_graphic(plan: Mapping[str, Any], zone: str) -> Next:
    art = plan["graphics"][zone]
    words = _("%(artwork)s, revision %(revision)s. No release agent under it.")
    detail = words % {"artwork": art["artwork"], "revision": art["revision"]}
    return Next(_("Scan the graphic for %(zone)s") % {"zone": zone.capitalize()}, detail, "scan")


def _next_insert(plan: Mapping[str, Any], open_: Sequence[str]) -> Next:
    """The part of the first open position, for all open positions that take it."""
    part = plan["inserts"][open_[0]]
    places = sorted((p for p in open_ if plan["inserts"][p] == part), key=in_order)
    return Next(
        _("Scan the box for insert positions %(places)s") % {"places": named_together(places)},
        _("%(part)s. Wear gloves: no release agent on inserts.") % {"part": part},
        "scan",
    )


def _next_layer(plan: Mapping[str, Any], name: str, colour: str) -> Next:
    layer = next(x for x in plan["layers"] if x["name"] == name)
    words = _("Scan the %(vessel)s of the %(layer)s") % {"vessel": layer.get("arrives", "tub"), "layer": name}
    return Next(words, layer["material"].format(colour=colour), "scan")


def rows(sight: Sight) -> tuple[Row, ...]:
    """The plan of the product against the records of the load: who put in what, and when."""
    found = sight.one("mould")
    if found is None or found.load is None:
        return ()
    done = lookup.put_into(found.load.id)
    names = names_of({d.person for d in done if d.person})
    plan, wanted = product(sight), _next_open(sight).sentence if stage(sight) == "open" else ""
    count = int((found.mould or {}).get("since_release", 0))
    ready = [d for d in done if d.what == "ready"]
    rows_ = [
        _row(_("Mould ready"), _("shot %(n)d since its release coat") % {"n": count + 1}, ready, names),
        *_graphic_rows(plan, done, names),
        *_part_rows(plan, done, names),
        *_layer_rows(plan, str(found.load.about.get("colour", "")), done, names),
    ]
    first = next((n for n, row in enumerate(rows_) if not row.done), None)
    if first is not None and wanted:
        rows_[first] = replace(rows_[first], now=True)
    return tuple(rows_)


def _graphic_rows(plan: Mapping[str, Any], done: Sequence[Done], names: dict[str, str]) -> list[Row]:
    found = []
    for zone, art in plan.get("graphics", {}).items():
        here = [d for d in done if d.what == "graphic" and d.where == zone]
        detail = f"{art['artwork']}, {_('revision')} {art['revision']}"
        found.append(_row(_("Graphic, %(zone)s") % {"zone": zone.capitalize()}, detail, here, names))
    return found


def _part_rows(plan: Mapping[str, Any], done: Sequence[Done], names: dict[str, str]) -> list[Row]:
    found, placed = [], [d for d in done if d.what == "insert"]
    for part in dict.fromkeys(plan.get("inserts", {}).values()):
        places = sorted((p for p, x in plan["inserts"].items() if x == part), key=in_order)
        found += _insert_rows(part, places, placed, names)
    return found


def _layer_rows(plan: Mapping[str, Any], colour: str, done: Sequence[Done], names: dict[str, str]) -> list[Row]:
    found = []
    for layer in plan.get("layers", []):
        here = [d for d in done if d.what == "charge" and d.where == layer["name"]]
        detail = f"{layer['material'].format(colour=colour)} {layer['target_kg']} kg"
        found.append(_row(layer["name"].capitalize(), detail, here, names))
    return found


def _insert_rows(part: str, places: list[str], done: Sequence[Done], names: dict[str, str]) -> list[Row]:
    """One row per box that was placed from, and one for the positions still open."""
    found, rows_ = {d.where: d for d in done if d.where in places}, []
    by_record: dict[tuple[Any, ...], list[str]] = {}
    for place in places:
        if place in found:
            d = found[place]
            by_record.setdefault((d.when, d.person, d.lot_no), []).append(place)
    for (when, person, lot), here in by_record.items():
        label = _("Inserts %(places)s") % {"places": named_together(here)}
        rows_.append(Row(label, f"{part} lot {lot or '?'}", True, names.get(person, ""), when))
    rest = [place for place in places if place not in found]
    if rest:
        detail = _("%(part)s, %(n)d open") % {"part": part, "n": len(rest)}
        rows_.append(Row(_("Inserts %(places)s") % {"places": named_together(rest)}, detail))
    return rows_


def _row(label: str, detail: str, done: Sequence[Done], names: dict[str, str]) -> Row:
    if not done:
        return Row(label, detail)
    last = done[-1]
    return Row(label, material_words(last) or detail, True, names.get(last.person, ""), last.when)


def drawing(sight: Sight) -> MouldPlan | None:
    """The mould plan with what is in place, dashed where it is open."""
    found, plan = sight.one("mould"), product(sight)
    if found is None or found.load is None or not plan.get("drawing"):
        return None
    filled, placed = in_place(found.load, "insert"), in_place(found.load, "graphic")
    return station_plan(
        plan["drawing"],
        {p: PositionState("done" if p in filled else "open") for p in plan.get("inserts", {})},
        {z: PositionState("done" if z in placed else "open") for z in plan.get("graphics", {})},
        title=str(plan.get("name", "")),
    )


def place(sight: Sight) -> str:
    found = sight.one("mould")
    if found is None:
        return ""
    # An empty mould may still be noted on the arm of its last cook.
    arm = sight.key("arm") if stage(sight) == "empty" else str((found.mould or {}).get("arm") or sight.key("arm"))
    return " · ".join(part for part in (_("Arm %(arm)s") % {"arm": arm} if arm else "", found.key) if part)


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    """The order stays for the next mould; the mould stays until it is closed."""
    kept = {} if sight.do in ("close", "abort") else {"mould": sight.text("mould")}
    return kept | {name: sight.text(name) for name in ("order", "arm") if sight.text(name)}


LOAD = Station(
    slug="load",
    title=gettext_lazy("Load"),
    home=Home(MOULDING, 30, gettext_lazy("Fill a mould: powder, inserts, graphics")),
    roles=("operator", "lead"),
    slots=slots,
    take=take,
    commands=commands,
    objection=objection,
    fields=fields,
    asks=asks,
    opens=lambda _sight, found: (found.mould or {}).get("stage", "empty") in ("", "empty", "open"),
    again=again,
    actions=actions,
    next=next_,
    rows=rows,
    drawing=drawing,
    place=place,
    after=after,
    stays=("order", "arm"),
    caution=HOT,
    stops=(*MATERIALS, *MADE),
)
