"""The history of a hull or lot: every event once, corrections beside what they put right."""

from collections.abc import Collection, Iterable, Mapping

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.sheets.contracts import HistoryLine
from trace.sheets.facts.entries import Entry, Row
from trace.sheets.facts.known import Known
from trace.sheets.saying import how_read, what

PUT_RIGHT = ("corrected", "plates_swapped")


def history(entries: Iterable[Entry], known: Known, told: Mapping[int, Row]) -> tuple[HistoryLine, ...]:
    """One line an event, in the order it happened. `told`: the plant's answers to flagged ones, by event id."""
    every = list(entries)
    corrected = _corrected(every)
    return tuple(_line(e, known, told.get(e.id), corrected.get(e.uid, ())) for e in every)


def _corrected(entries: Collection[Entry]) -> dict[str, list[Entry]]:
    """Event uid -> the later entries that withdrew something of it."""
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        if entry.kind not in PUT_RIGHT:
            continue
        uids = {row["event"] for row in entry.part("voids")} | {entry.body.get("corrects")}
        for uid in sorted(str(u) for u in uids if u):
            found.setdefault(uid, []).append(entry)
    return found


def _line(entry: Entry, known: Known, answer: Row | None, by: Collection[Entry]) -> HistoryLine:
    notes = [_beside(other, known) for other in by]
    if entry.flagged:
        words = " ".join(str((answer or {}).get(part, "")) for part in ("what", "why")).strip()
        notes.append(_("Flagged, %(codes)s: %(words)s") % {
            "codes": ", ".join(entry.flagged), "words": known.spoken(words),
        })  # fmt: skip
    if entry.warned:
        notes.append(_("Warned: %(codes)s.") % {"codes": ", ".join(entry.warned)})
    for code, reason in sorted(entry.overrides.items()):
        notes.append(_("%(code)s let pass: %(reason)s") % {"code": code, "reason": known.notes.text(reason)})
    if entry.says.get("remark"):
        notes.append(known.notes.text(entry.says["remark"]))
    if entry.unsure.total_seconds() >= 60:
        notes.append(_("Time known to ± %(minutes)d min.") % {"minutes": round(entry.unsure.total_seconds() / 60)})
    return HistoryLine(
        happened=entry.happened,
        recorded=entry.recorded,
        what=what(entry, known),
        who=_who(entry, known),
        with_what=_with_what(entry),
        late=entry.late,
        corrected=bool(by),
        correction=entry.kind in PUT_RIGHT,
        override=bool(entry.overrides),
        note=" ".join(notes),
    )


def _beside(other: Entry, known: Known) -> str:
    return _("Put right by %(who)s, %(when)s.") % {
        "who": known.person(other.person), "when": f"{timezone.localtime(other.happened):%-d %b %Y %H:%M}",
    }  # fmt: skip


def _who(entry: Entry, known: Known) -> str:
    who = known.person(entry.person)
    return _("%(who)s, with %(helper)s") % {"who": who, "helper": known.person(entry.helper)} if entry.helper else who


def _with_what(entry: Entry) -> str:
    said = []
    if entry.kind == "weighed":
        said += [_("scale %(key)s") % {"key": entry.says["scale"]}, how_read(str(entry.says.get("how")))]
    for role, word in (("mould", _("mould")), ("logger", _("logger"))):
        said += [f"{word} {key}" for key in entry.resources(role)]
    return ", ".join(said)
