"""What several stations ask in the same way: choices, figures, reasons, and rows out of records."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import printed
from trace.lookup import Done, person_names
from trace.recording.floor import words as say
from trace.scan.page import Action, Choice, Field, Row
from trace.scan.sight import Sight
from trace.speech import names_of

# The line under every caution: what such a screen is and is not.
DEFERRAL = gettext_lazy(
    "This is a record, not approval. Local law, machine makers' instructions and licensed persons come first."
)
OFF = "off "  # with a code behind it: the button that takes it out again
ANEW = "anew"  # what was put together here is put aside
MORE = "more "  # with a number behind it: so many rows of a long list are skipped; nothing is recorded
LOOK = "look"  # the page is drawn anew for what was chosen; nothing is recorded
HOT = gettext_lazy("Moulds burn skin: scan at arm's length or at the post, never on a hot mould.")
TURNING = gettext_lazy(
    "Arms, carriages and doors move and burn. A scan starts, stops and permits nothing: lock out before going in."
)
DUSTY = gettext_lazy(
    "Powder dust can burn and explode: no sparks, earth what you pour from. Scanners may need a zone rating."
)
HEAVY = gettext_lazy("Heavy and bulky: lift with help or a hoist, keep clear under racks.")


def choices(pairs: Iterable[tuple[str, str]]) -> tuple[Choice, ...]:
    return tuple(Choice(value, label) for value, label in pairs)


def choice(
    name: str,
    label: str,
    pairs: Iterable[tuple[str, str]],
    *,
    required: bool = True,
    value: str = "",
    hint: str = "",
    ask: str = "",
) -> Field:
    """One of several, as buttons or (more than six) as a list."""
    return Field(name, label, "choice", value, choices=choices(pairs), required=required, hint=hint, ask=ask)


def consignees(sight: Sight) -> list[tuple[str, str]]:
    """(key, name) of everybody goods can go to; a name that was erased is its key."""
    if "consignees" not in sight.looked:
        notes = {t.key: str(t.body.get("name", "")) for t in sight.plant.of_kind("consignee") if not t.ended}
        names = person_names(notes.values())
        sight.looked["consignees"] = [(key, names.get(note) or key) for key, note in notes.items()]
    found: list[tuple[str, str]] = sight.looked["consignees"]
    return found


def why(pairs: Iterable[tuple[str, str]], *, label: str = "", required: bool = True, ask: str = "") -> Field:
    """A reason from a short list beside the person's own words; read by `reason_of`."""
    return Field("why", label or _("Reason"), "reason", choices=choices(pairs), required=required, ask=ask)


def reason_of(sight: Sight) -> str:
    """The reason chosen and the words written, as one text; "" when neither was given."""
    return ": ".join(part for part in (sight.text("why"), sight.text("why_words")) if part)


def off(code: str, style: str = "plain", name: str = "") -> Action:
    """Takes a code out of a slot that gathers several: off the page's list, nothing is recorded by it."""
    return press(f"{OFF}{code}", _("Off the list: %(name)s") % {"name": name or printed(code)}, style, below=True)


def press(value: str, label: str, style: str = "main", **more: Any) -> Action:
    """`more`: what else trace.scan.page.Action says of a button."""
    return Action("do", value, label, style, **more)  # type: ignore[arg-type]


def skipped(sight: Sight) -> int:
    """How many rows of a long list the button that was pressed leaves out; 0 after anything else."""
    text = sight.do.removeprefix(MORE) if sight.do.startswith(MORE) else ""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 7 else 0


def turning(first: int, shown: int, every: int) -> tuple[Row, ...]:
    """The buttons under a list of which only a part is shown: the next ones, and back to the first."""
    after = first + shown
    words = _("%(a)d to %(b)d of %(all)d are shown") % {"a": first + 1, "b": after, "all": every}
    on = Row(_("Show the next"), words, note=True, do=f"{MORE}{after}")
    back = Row(_("Show the first"), words if after >= every else "", note=True, do=f"{MORE}0")
    return (*((on,) if after < every else ()), *((back,) if first else ()))


def done_rows(done: Sequence[Done], label: dict[str, str] | None = None) -> tuple[Row, ...]:
    """Rows for what was done, with who and when."""
    names = names_of({d.person for d in done if d.person})
    words = label or {}
    return tuple(
        Row(
            words.get(d.what, d.what.replace("_", " ")) + (f" {d.where}" if d.where else ""),
            material_words(d), True, names.get(d.person, ""), d.when,
        )
        for d in done
    )  # fmt: skip


def material_words(done: Done) -> str:
    """“LL-35 red lot V-2288, 12.20 kg”, as far as it is known."""
    parts = [done.material + (f" lot {done.lot_no}" if done.lot_no else "")]
    if done.amount is not None:
        parts.append(say.amount(done.amount, done.uom))
    return ", ".join(part for part in parts if part)
