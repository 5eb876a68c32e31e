"""Goods-in: book what stands on the dock, on hold if need be; the certificate; the release."""

from collections.abc import Sequence
from dataclasses import replace

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import CodeError, parse_scan, printable
from trace.recording.acts.goods_in import UOM_OF_KIND, Certify, Receive, Release, outside_limits
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor.sources import certificate_of
from trace.recording.floor.standing import Found
from trace.scan.asked import without
from trace.scan.page import Action, Field, Row
from trace.scan.sight import STORES, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HEAVY, choice, press, reason_of, why

LONGEST_LOT = 40
MOST = 200  # containers of one delivery line
STAYS = ("supplier", "note_no", "place")


def slots(sight: Sight) -> tuple[Slot, ...]:
    return (Slot("place", ("place",), _("Scan the place"), optional=True),)


def amounts(sight: Sight) -> tuple[str, ...]:
    """What each container holds: `count` times `each`, and those that differ one by one."""
    count, each = sight.text("count"), sight.text("each")
    many = int(count) if count.isascii() and count.isdecimal() and len(count) < 5 else 0
    if not 1 <= many <= MOST:
        return ()
    others = sight.text("others").replace(";", " ").split()
    return (*((each,) * many if each or not others else ()), *others)


def fields(sight: Sight) -> tuple[Field, ...]:
    kind = str(sight.plant.body("material", sight.text("material")).get("kind"))
    unit = "kg" if UOM_OF_KIND.get(kind, "mg") == "mg" else _("pieces")
    whole = sight.do != "hold"
    other = ("unknown", _("Not in this list"))
    return (
        replace(
            choice("supplier", _("Supplier"), [*sight.choices("supplier"), other], required=whole),
            ask=_("Who sent it?"),
            hint=_("Nobody sends a lorry away: what is not wanted is booked on hold."),
        ),
        replace(
            choice("material", _("Material"), [*sight.choices("material"), other], required=whole),
            ask=_("Which material is it?"),
        ),
        Field(
            "lot_no",
            _("Lot on the supplier's label"),
            required=whole,
            ask=_("The lot on the supplier's label"),
            hint=_("Scan it, or type it as printed."),
        ),
        Field(
            "count",
            _("How many containers"),
            "count",
            required=whole,
            ask=_("How many containers?"),
            hint=_("of this lot, on this delivery"),
        ),
        Field(
            "each",
            _("Each holds"),
            "weight",
            unit=unit,
            required=whole and not sight.text("others"),
            ask=_("What each holds"),
            hint=_("One differs? Say which below."),
        ),
        Field("others", _("Those that hold something else"), hint=_("one figure each, with blanks between")),
        Field("note_no", _("Delivery note"), ask=_("Number of the delivery note"), without=_("No note came")),
        Field(
            "note_amount",
            _("Amount on the note"),
            "weight",
            unit=unit,
            ask=_("What the note says"),
            without=_("It says none"),
        ),
        Field("expires", _("Use by"), "date"),
        Field("made", _("Made on"), "date"),
        Field("seal_paper", _("Seal number on the papers")),
        Field("seal_seen", _("Seal number on the tanker")),
        *_hold_fields(sight),
    )


def asks(sight: Sight) -> tuple[str, ...]:
    """Lot, count, each, note, in this order; a note that did not come says no amount."""
    note = ("note_no",) if "note_no" in without(sight) else ("note_no", "note_amount")
    each = () if sight.text("others") and not sight.text("each") else ("each",)
    return ("supplier", "material", "lot_no", "count", *each, *note)


def _hold_fields(sight: Sight) -> tuple[Field, ...]:
    reasons = [("unwanted", _("Nobody ordered it")), ("unknown", _("Not known here")), ("damaged", _("Damaged")),
               ("papers differ", _("Papers differ")), ("expired", _("Past its date"))]  # fmt: skip
    return (
        why(reasons, label=_("Reason, when it is booked on hold"), required=sight.do == "hold"),
        Field("photo_evidence", _("Photo for the hold"), "photo", value=sight.text("photo_evidence")),
    )


def reads(sight: Sight, text: str) -> str:
    """The supplier's own label: lot, dates and weight of a GS1 label, else the text itself as the lot number."""
    try:
        found = parse_scan(text)
    except CodeError:
        return ""
    if found.supplier is not None:
        label, today = found.supplier, timezone.localdate(sight.now)
        seen: dict[str, object] = {"lot_no": label.lot, "each": label.net_kg}
        try:
            seen |= {"expires": label.on("17", today) or label.on("15", today), "made": label.on("11", today)}
        except CodeError:
            seen |= {"expires": None}
        known = {name: str(value) for name, value in seen.items() if value is not None}
    else:
        known = {"lot_no": found.text} if found.kind == "foreign" and len(found.text) <= LONGEST_LOT else {}
    sight.held |= known
    return (
        _("Read from the supplier's label: %(what)s. Compare it with the label.")
        % {"what": ", ".join(printable(value, 40) for value in known.values())}
        if known
        else ""
    )


def actions(sight: Sight) -> tuple[Action, ...]:
    return (
        press("book", _("Book it"), needs=asks(sight)),
        press("hold", _("Book it on hold"), "plain", needs=("why",)),
    )


def commands(sight: Sight) -> Sequence[Command] | None:
    on_hold = sight.do == "hold"
    whole = all(sight.text(name) for name in ("supplier", "material", "lot_no")) and bool(amounts(sight))
    # On hold nothing but the reason is asked for: what is not known of it is a gap.
    if not (reason_of(sight) if on_hold else whole):
        return None
    if sight.do not in ("book", "hold"):
        return None
    return [
        Receive(
            supplier=sight.text("supplier") or "unknown", material=sight.text("material") or "unknown",
            lot_no=sight.text("lot_no"),
            amounts=amounts(sight), note_no=sight.text("note_no"), note_amount=sight.text("note_amount"),
            made=sight.text("made"), expires=sight.text("expires"), seal_paper=sight.text("seal_paper"),
            seal_seen=sight.text("seal_seen"), place=sight.text("place"),
            hold_reason=reason_of(sight) if on_hold else "", photo=sight.text("photo_evidence"),
        )
    ]  # fmt: skip


def next_(sight: Sight) -> Next:
    words = {"lot": printable(sight.text("lot_no"), 40), "what": sight.text("material")}
    each = sorted(set(amounts(sight)))
    if not (all(words.values()) and each):
        return Next(
            _("Book what stands on the dock"), _("Nobody sends a lorry away: what is not wanted is booked on hold.")
        )
    words |= {"n": str(len(amounts(sight))), "each": " / ".join(each)}
    note = sight.text("note_amount")
    said = _("The note says %(note)s.") % {"note": note} if note else _("No amount on a note.")
    return Next(_("Book %(n)s × %(each)s of lot %(lot)s") % words, f"{words['what']}. {said}")


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    return {name: sight.text(name) for name in STAYS if sight.text(name)}


GOODS_IN = Station(
    slug="goods-in",
    title=gettext_lazy("Goods in"),
    home=Home(STORES, 10, gettext_lazy("Book what stands on the dock")),
    roles=("stores", "lead"),
    slots=slots,
    fields=fields,
    reads=reads,
    asks=asks,
    actions=actions,
    commands=commands,
    next=next_,
    place=lambda sight: sight.key("place"),
    after=after,
    caution=HEAVY,
    labels="a4",
)


# The certificate and the release of a lot.


def lot_slots(sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot(
            "container",
            ("container", "roll", "vessel", "lot"),
            _("Scan a container of the lot"),
            clears=("lot_on_certificate", "why", "why_words"),
        ),
    )


def material(sight: Sight) -> dict[str, object]:
    found = sight.one("container")
    return dict(sight.plant.body("material", found.unit.about.get("material") if found and found.unit else None))


def spec(sight: Sight) -> dict[str, list[str]]:
    found: dict[str, list[str]] = material(sight).get("spec", {})  # type: ignore[assignment]
    return found


def value_word(name: str) -> str:
    return name.upper() if len(name) < 4 else name.capitalize()


def certificate_fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("container"):
        return ()
    values = [
        Field(
            f"value_{name}",
            value_word(name),
            "weight",
            needed=_("for the release"),
            hint=f"{low} – {high}",
            ask=_("%(value)s on the certificate") % {"value": value_word(name)},
            without=_("It is not on it"),
        )
        for name, (low, high) in sorted(spec(sight).items())
    ]
    wanted = str(material(sight).get("finish") or "")
    named = Field(
        "finish", _("Finish named on it"), needed=_("for the release"), hint=wanted, without=_("It names none")
    )
    finish = [named] if wanted else []
    lot = Field(
        "lot_on_certificate", _("Lot named on the certificate"), required=True,
        ask=_("The lot named on the certificate"), hint=lot_words(sight.one("container")),
    )  # fmt: skip
    return (lot, *values, *finish)


def certificate_commands(sight: Sight) -> Sequence[Command] | None:
    if not (sight.text("container") and sight.text("lot_on_certificate")) or sight.do != "certify":
        return None
    values = {name: sight.text(f"value_{name}") for name in spec(sight) if sight.text(f"value_{name}")}
    return [
        Certify(
            container=sight.text("container"), lot_on_certificate=sight.text("lot_on_certificate"), values=values,
            finish=sight.text("finish"),
        )
    ]  # fmt: skip


def lot_words(found: Found | None) -> str:
    if found is None or found.unit is None:
        return ""
    about = found.unit.about
    return f"{about.get('material', '')} lot {found.unit.lot_no or '?'}, {found.unit.status}"


def lot_rows(sight: Sight) -> tuple[Row, ...]:
    found = sight.one("container")
    if found is None or found.unit is None:
        return ()
    held = _("on hold") if found.unit.holds else _("held from dispatch") if found.unit.at_gate else ""
    return (Row(lot_words(found), held, note=True),)


def release_rows(sight: Sight) -> tuple[Row, ...]:
    """The lot and its certificate: what was read off it beside what the material asks for."""
    found = sight.one("container")
    if found is None or found.unit is None:
        return ()
    unit = found.unit
    paper = certificate_of(unit.uid if unit.kind == "lot" else str(unit.about.get("lot", unit.uid)))
    if paper is None:
        return (*lot_rows(sight), Row(_("Certificate"), _("none is recorded"), note=True))
    rows_ = [Row(_("Lot on the certificate"), printable(paper["lot_on_certificate"]), note=True)]
    values = paper.get("values", {})
    for name, limits in sorted(spec(sight).items()):
        words = {"value": values.get(name) or _("missing"), "low": limits[0], "high": limits[1]}
        said, outside = _("%(value)s, limits %(low)s – %(high)s"), bool(outside_limits({name: limits}, values))
        if outside:
            said = _("%(value)s, OUTSIDE its limits %(low)s – %(high)s")
        rows_.append(Row(value_word(name), said % words, note=True, now=outside))
    wanted = material(sight).get("finish")
    if wanted:
        words = {"finish": printable(paper.get("finish") or "") or _("missing"), "wanted": wanted}
        rows_.append(Row(_("Finish"), _("%(finish)s, wanted %(wanted)s") % words, note=True))
    return (*lot_rows(sight), *rows_)


CERTIFICATE = Station(
    slug="certificate",
    title=gettext_lazy("Certificate"),
    home=Home(STORES, 20, gettext_lazy("Read the supplier's values into a lot")),
    roles=("quality", "deputy", "stores"),
    slots=lot_slots,
    thing="container",
    fields=certificate_fields,
    commands=certificate_commands,
    actions=lambda sight: (press("certify", _("Record the certificate")),) if sight.text("container") else (),
    rows=lot_rows,
    next=lambda sight: (
        Next(_("Read the values off the certificate"), lot_words(sight.one("container")))
        if sight.text("container")
        else None
    ),
)


def release_fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("container"):
        return ()
    return (
        Field("conditional", _("Conditionally: a test is still open"), "checkbox"),
        why(
            [
                ("certificate", _("Certificate in order")),
                ("tested", _("Tested here")),
                ("test open", _("Test still open")),
            ]
        ),
    )


def release_commands(sight: Sight) -> Sequence[Command] | None:
    if not (sight.text("container") and reason_of(sight)):
        return None
    return [
        Release(
            container=sight.text("container"), conditional=sight.text("conditional") == "yes", reason=reason_of(sight)
        )
    ]


RELEASE = Station(
    slug="release",
    title=gettext_lazy("Release"),
    home=Home(STORES, 30, gettext_lazy("Let a lot into use, on its certificate")),
    roles=("quality", "deputy"),
    slots=lot_slots,
    fields=release_fields,
    commands=release_commands,
    actions=lambda sight: (press("release", _("Release the lot")),) if sight.text("container") else (),
    rows=release_rows,
    next=lambda sight: (
        Next(_("Release this lot, with the reason"), lot_words(sight.one("container")))
        if sight.text("container")
        else None
    ),
    half_done=False,
)
