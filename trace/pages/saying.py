"""What happened, in one line: each kind of event in the trade's words."""

from collections.abc import Callable

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from trace.codes import kg_to_mg, printed
from trace.drawings.words import in_order, named_together
from trace.pages.facts.amounts import said
from trace.pages.facts.entries import Entry
from trace.pages.facts.known import Known
from trace.pages.facts.notes import named


def what(entry: Entry, known: Known) -> str:
    """The line for one event; an unknown kind is said by its own name."""
    say = SAYINGS.get(entry.kind)
    return say(entry, known) if say else entry.kind.replace("_", " ")


def _received(e: Entry, known: Known) -> str:
    count = len(e.says["amounts"]) or 1
    words = ngettext(
        "Received: %(material)s lot %(lot)s, %(count)d container from %(supplier)s",
        "Received: %(material)s lot %(lot)s, %(count)d containers from %(supplier)s", count,
    )  # fmt: skip
    return words % {
        "material": e.says["material"], "lot": e.says["lot_no"].strip() or _("not recorded"), "count": count,
        "supplier": supplier(e.says["supplier"], known),
    }  # fmt: skip


def supplier(key: object, known: Known) -> str:
    return str(known.plant.newest("supplier", key).get("name") or key or "")


def _certified(e: Entry, _known: Known) -> str:
    values = ", ".join(f"{name} {value}" for name, value in sorted(e.says["values"].items()))
    finish = _(", finish %(finish)s") % {"finish": e.says["finish"]} if e.says.get("finish") else ""
    return _("Certificate of lot %(lot)s read: %(values)s%(finish)s") % {
        "lot": e.says["lot_on_certificate"], "values": values or _("no values"), "finish": finish,
    }  # fmt: skip


def _released(e: Entry, _known: Known) -> str:
    word = _("Released conditionally") if e.says.get("conditional") else _("Released")
    return f"{word}: {printed(str(e.says['container']))}"


def _topped_up(e: Entry, _known: Known) -> str:
    edge = next((row for row in e.part("edges") if row["role"] == "topup"), None)
    much = said(edge["amount"], edge["uom"]) if edge and edge["amount"] else e.says["amount"]
    return _("%(amount)s from %(source)s on top of what was in %(into)s") % {
        "amount": much, "source": printed(e.says["source"]), "into": printed(e.says["into"]),
    }  # fmt: skip


def _weighed(e: Entry, _known: Known) -> str:
    try:
        net = said(kg_to_mg(e.says["gross"]) - kg_to_mg(e.says["tare"]), "mg")
    except ValueError:
        net = f"{e.says['gross']} – {e.says['tare']} kg"
    more = _(", more to come") if e.says.get("part") else ""
    return _("%(layer)s weighed: %(net)s from %(box)s%(more)s") % {
        "layer": str(e.says["layer"]).capitalize(), "net": net, "box": printed(e.says["box"]), "more": more,
    }  # fmt: skip


def how_read(how: str) -> str:
    """Whether a weight was read from the scale, photographed or typed."""
    return {"read": _("read from the scale"), "photographed": _("photographed"), "typed": _("typed")}.get(how, how)


def _mould_ready(e: Entry, _known: Known) -> str:
    return _("Mould %(mould)s made ready on arm %(arm)s for %(order)s") % e.says


def _inserts(e: Entry, _known: Known) -> str:
    places = [row["position"] for row in e.part("edges") if row["role"] == "insert"]
    places += [row["which"] for row in e.part("gaps")]
    words = ngettext(
        "%(count)d insert placed in %(places)s, from %(box)s",
        "%(count)d inserts placed in %(places)s, from %(box)s", len(places),
    )  # fmt: skip
    return words % {
        "count": len(places), "places": named_together(sorted(places, key=in_order)) or _("no position"),
        "box": printed(e.says["box"]),
    }  # fmt: skip


def _graphic(e: Entry, _known: Known) -> str:
    zones = [str(row["position"]).lower() for row in e.part("edges") if row["role"] == "graphic"]
    return _("Graphic placed: %(zone)s, from %(pack)s") % {
        "zone": ", ".join(zones) or e.says["zone"], "pack": printed(e.says["pack"]),
    }  # fmt: skip


def _tipped(e: Entry, _known: Known) -> str:
    tub, mould = printed(e.says["tub"]), e.says["mould"]
    for row in e.part("edges"):
        return _("%(layer)s tipped: %(amount)s from %(tub)s into %(mould)s") % {
            "layer": str(row["layer"]).capitalize(), "amount": said(row["amount"], row["uom"]), "tub": tub,
            "mould": mould,
        }  # fmt: skip
    return _("%(tub)s tipped into %(mould)s, with nothing weighed into it") % {"tub": tub, "mould": mould}


def _closed(e: Entry, _known: Known) -> str:
    counted = _(", %(n)s inserts counted") % {"n": e.says["counted"]} if e.says.get("counted") else ""
    return _("Mould %(mould)s closed%(counted)s") % {"mould": e.says["mould"], "counted": counted}


def _cook_started(e: Entry, _known: Known) -> str:
    number = ", ".join(row["number"] for row in e.part("cycles"))
    again = _(" (cooked again)") if e.says.get("units") else ""
    return _("Cycle %(number)s begun in %(oven)s, arm %(arm)s%(again)s") % {
        "number": number, "oven": e.says["oven"], "arm": e.says["arm"], "again": again,
    }  # fmt: skip


def _cook_stage(e: Entry, _known: Known) -> str:
    at = _(" at %(c)s °C") % {"c": e.says["temperature"]} if e.says.get("temperature") else ""
    seen = "" if e.says.get("observed", True) else _(", not seen")
    length = _(", %(n)s minutes") % {"n": e.says["minutes"]} if e.says.get("minutes") else ""
    return _("Stage %(stage)s%(at)s%(seen)s%(length)s") % {
        "stage": e.says["stage"], "at": at, "seen": seen, "length": length,
    }  # fmt: skip


def _cook_ended(e: Entry, _known: Known) -> str:
    peak = _("peak %(c)s °C") % {"c": e.says["piat"]} if e.says.get("piat") else _("peak not read")
    log = _("log attached") if e.says.get("log") == "attached" else _("log missing")
    return _("Out of the oven: %(peak)s, %(log)s") % {"peak": peak, "log": log}


def _cooled(e: Entry, _known: Known) -> str:
    seen = _("%(c)s °C inside") % {"c": e.says["demould_c"]} if e.says.get("demould_c") else _("not read")
    return _("Cooled: %(seen)s") % {"seen": seen}


def _demoulded(e: Entry, _known: Known) -> str:
    numbers = [row["lot_no"] for row in e.part("units") if row["kind"] == "moulding"]
    return _("Demoulded: moulding %(numbers)s") % {"numbers": ", ".join(numbers)}


def _bound(e: Entry, _known: Known) -> str:
    mass = _(", %(kg)s kg as moulded") % {"kg": e.says["mass"]} if e.says.get("mass") else ""
    return _("Plate %(plate)s bound%(mass)s") % {"plate": e.says["plate"], "mass": mass}


def _inspected(e: Entry, _known: Known) -> str:
    parts = [_("passed") if e.says["verdict"] == "pass" else _("failed")]
    if e.says.get("checks"):
        parts.append(", ".join(e.says["checks"]))
    zones = e.says.get("thickness") or {}
    if zones:
        parts.append(", ".join(f"{zone} {mm} mm" for zone, mm in sorted(zones.items())))
    if e.says.get("mass"):
        parts.append(f"{e.says['mass']} kg")
    return _("Inspected: %(said)s") % {"said": "; ".join(parts)}


def _packed(e: Entry, _known: Known) -> str:
    codes = ", ".join(printed(row["code"]) for row in e.part("labels"))
    return _("Packed as %(code)s for %(order)s, %(count)d in the pack") % {
        "code": codes, "order": e.says["order"], "count": len(e.says["hulls"]),
    }  # fmt: skip


def _dispatched(e: Entry, known: Known) -> str:
    key = e.says["consignee"]
    to = named("consignee", key, known.plant, known.notes) if key else _("nobody recorded whom")
    vehicle = _(", vehicle %(v)s") % {"v": e.says["vehicle"]} if e.says.get("vehicle") else ""
    return _("Dispatched to %(to)s on %(order)s%(vehicle)s") % {
        "to": to, "order": e.says["order"], "vehicle": vehicle,
    }  # fmt: skip


def _held(e: Entry, known: Known) -> str:
    return _("Hold laid on %(code)s: %(why)s") % {
        "code": printed(e.says["code"]), "why": known.notes.text(e.body.get("why")) or _("no reason given"),
    }  # fmt: skip


def _hold_released(e: Entry, known: Known) -> str:
    one = _(" for %(code)s alone") % {"code": printed(e.says["code"])} if e.says.get("code") else ""
    return _("Hold released%(one)s: %(why)s") % {
        "one": one, "why": known.notes.text(e.body.get("why")) or _("no reason given"),
    }  # fmt: skip


def _corrected(e: Entry, known: Known) -> str:
    now = printed(e.says["now"]) if e.says.get("now") else _("no record")
    amount = _(", amount %(a)s") % {"a": e.says["amount"]} if e.says.get("amount") else ""
    return _("Put right: not %(was)s but %(now)s%(amount)s. %(why)s") % {
        "was": printed(e.says["was"]), "now": now, "amount": amount,
        "why": known.notes.text(e.body.get("why")),
    }  # fmt: skip


def _swapped(e: Entry, known: Known) -> str:
    return _("Plates %(first)s and %(second)s found the wrong way round and exchanged. %(why)s") % {
        "first": e.says["first"], "second": e.says["second"], "why": known.notes.text(e.body.get("why")),
    }  # fmt: skip


def _counted(e: Entry, _known: Known) -> str:
    found = next((row for row in e.part("differences") if row.get("left") is not None), None)
    return _("%(code)s counted: %(amount)s") % {
        "code": printed(e.says["box"]), "amount": said(found["left"], found["uom"]) if found else e.says["amount"],
    }  # fmt: skip


def _plates(words: str) -> Callable[[Entry, Known], str]:
    def say(e: Entry, _known: Known) -> str:
        count = len(e.says.get("serials") or e.says.get("plates") or ())
        return _(words) % {"count": count}

    return say


def _plain(words: str, field: str) -> Callable[[Entry, Known], str]:
    def say(e: Entry, _known: Known) -> str:
        return _(words) % {"code": printed(str(e.says.get(field, "")))}

    return say


def _racked(e: Entry, known: Known) -> str:
    return _("Put in %(place)s") % {"place": known.place(e.says["place"])}


def _given_up(e: Entry, _known: Known) -> str:
    words = _("%(code)s given up: what was in it is scrap")
    if not e.part("units"):
        words = _("Load of %(code)s given up: nothing was in it")
    return words % {"code": printed(str(e.says.get("mould", "")))}


SAYINGS: dict[str, Callable[[Entry, Known], str]] = {
    "received": _received,
    "certified": _certified,
    "released": _released,
    "topped_up": _topped_up,
    "weighed": _weighed,
    "mould_ready": _mould_ready,
    "inserts_placed": _inserts,
    "graphic_placed": _graphic,
    "tipped": _tipped,
    "mould_closed": _closed,
    "cook_started": _cook_started,
    "cook_stage": _cook_stage,
    "cook_ended": _cook_ended,
    "cooled": _cooled,
    "demoulded": _demoulded,
    "bound": _bound,
    "inspected": _inspected,
    "packed": _packed,
    "racked": _racked,
    "dispatched": _dispatched,
    "held": _held,
    "hold_released": _hold_released,
    "corrected": _corrected,
    "plates_swapped": _swapped,
    "plates_made": _plates(gettext_noop("Plate made, in a batch of %(count)d")),
    "plates_out": _plates(gettext_noop("Plate checked out, %(count)d together")),
    "plates_back": _plates(gettext_noop("Plate counted back, %(count)d together")),
    "proved_empty": _plain(gettext_noop("%(code)s proved empty and clean"), "vessel"),
    "counted": _counted,
    "opening_stock": _plain(gettext_noop("Opening stock, made before records: %(code)s"), "material"),
    "old_hull": _plain(gettext_noop("Made before records: %(code)s"), "serial"),
    "rewrapped": _plain(gettext_noop("Wrapped anew: %(code)s no longer counts"), "pack"),
    "label_reprinted": _plain(gettext_noop("Label %(code)s printed again"), "code"),
    "cut": _plain(gettext_noop("Moulding %(code)s cut into parts"), "moulding"),
    "scrapped": _plain(gettext_noop("Scrapped: %(code)s"), "unit"),
    "cook_aborted": _given_up,
}
