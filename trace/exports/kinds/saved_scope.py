"""The paper of a saved scope: what was kept of it, and its question asked for its own moment and for today's, hull by hull."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.exports.asked import Asked, PaperError, for_reader
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, plant_name
from trace.exports.paper import Column, Facts, Paper, Part, Row, Said, Streamed, Table
from trace.genealogy.amounts import Verdict
from trace.genealogy.asked_again import AskedAgain, How, asked_again
from trace.genealogy.cause_said import said_of
from trace.genealogy.causes import CauseError, read_cause
from trace.genealogy.reasons import stamped
from trace.genealogy.saved_scopes import SavedScope, saved_scopes
from trace.genealogy.sharing import Line
from trace.recording.floor.complaints import LARGEST
from trace.sheets.asked_again import again_sheet
from trace.sheets.contracts import grouped
from trace.sheets.facts.known import Known, known_of
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.sheet import caution

HOW_WORDS: Mapping[How, object] = {
    "gone": gettext_lazy("shares it no more"), "new": gettext_lazy("shares it now"),
    "verdict": gettext_lazy("from may to certain, or back"), "amount": gettext_lazy("holds another amount"),
}  # fmt: skip


def saved_scope_paper(asked: Asked) -> Paper:
    """Raises PaperError for what is no number or cannot be asked any more, LookupError where none was saved by then."""
    typed = asked.words["number"]
    if not typed.isascii() or not typed.isdigit() or int(typed) > LARGEST:
        raise PaperError(_("A saved scope is asked for by its number."))
    one = next(iter(saved_scopes(int(typed), as_known_on=asked.as_known_on)), None)
    if one is None:
        raise LookupError(_("There is no saved scope %(number)s.") % {"number": typed})
    try:
        cause = read_cause(one.words)
        found = asked_again(cause, one.known, asked.as_known_on)
    except CauseError as error:
        raise PaperError(_("This question cannot be asked any more. %(why)s") % {"why": error}) from None
    known = for_reader(_named(one, found, asked), asked.reader)
    return Paper(
        kind="saved-scope",
        what=_("Saved scope"),
        title=_("Saved scope %(n)d: %(name)s") % {"n": one.number, "name": known.notes.text(one.name)},
        question=(("number", str(one.number)),),
        as_known_on=asked.as_known_on,
        records=found.now.tree_size,
        gaps=tuple(dict.fromkeys(gap.said for gap in found.now.gaps)),
        parts=tuple(_parts(one, found, said_of(cause), known, asked)),
        caution=caution(),
        plant=plant_name(asked.as_known_on),
    )


def _named(one: SavedScope, found: AskedAgain, asked: Asked) -> Known:
    """The people, places and words that the paper names."""
    people = {one.person, one.aside_by} - {""}
    at = {line.place for line in found.now.lines if line.verdict != "cannot"}
    known = known_of((), (), places=at, as_known_on=asked.as_known_on, people=people)
    texts = {**notes((one.name, one.why)).texts, **known.notes.texts}
    return replace(known, notes=replace(known.notes, texts=texts))


def _parts(one: SavedScope, found: AskedAgain, said: str, known: Known, asked: Asked) -> Iterator[Part]:
    as_kept = one.same_as(found.then)
    if not as_kept:
        yield Said(_("That moment is not answered as it was when it was kept"), (_(
            "Records of the past may not be what they were. Trust neither answer until somebody has found out why: check"
            " the records."
        ),), "stop")  # fmt: skip
    yield Facts("", tuple(_kept(one, said, known, as_kept=as_kept)))
    yield _answers(found)
    yield _changed(found, said)
    if found.unweighed:
        yield Said("", (_(
            "What is asked about went too far for amounts to be reckoned in every hull: they are not compared."
        ),))  # fmt: skip
    yield _missing(found)
    yield _hulls(found, known)
    question = _("saved scope %(n)d, compared with %(on)s") % {"n": one.number, "on": asked.as_known_on.isoformat()}
    yield again(question, grouped(found.now.tree_size), asked.reader)


def _kept(one: SavedScope, said: str, known: Known, *, as_kept: bool) -> Iterator[tuple[str, str]]:
    yield _("Question"), _("hulls that %(said)s (%(words)s)") % {"said": said, "words": " ".join(one.words)}
    yield _("Saved"), _("%(when)s by %(who)s") % {"when": stamped(one.saved), "who": known.person(one.person)}
    counts: dict[str, str] = {verdict: grouped(n) for verdict, n in one.counts.items()}
    counts["records"] = grouped(one.tree_size)
    yield _("Kept of it"), _("%(certain)s certain, %(may)s may, %(cannot)s cannot of %(records)s records") % counts
    yield _("Digest of it"), one.digest
    yield _("Its own moment today"), (
        _("answered as it was when it was kept") if as_kept else _("NOT answered as it was when it was kept")
    )
    if one.aside:
        yield _("Put aside"), _("%(when)s by %(who)s: %(why)s") % {
            "when": stamped(one.aside), "who": known.person(one.aside_by), "why": known.notes.text(one.why),
        }  # fmt: skip


def _answers(found: AskedAgain) -> Table:
    return Table("answers", _("Both answers, counted"), _("One of the two moments for which it was asked."), (
        Column("known", _("As known on"), _("The moment for which it was asked."), "time", wide=2),
        Column("certain", _("certain"), _("Hulls that share it."), "count", wide=1),
        Column("may", _("may"), _("Hulls that may."), "count", wide=1),
        Column("cannot", _("cannot"), _("Hulls that cannot."), "count", wide=1),
        Column("records", _("Records by then"), _("How many records there were."), "count", wide=1.2),
    ), tuple(
        (one.as_known_on, one.count("certain"), one.count("may"), one.count("cannot"), one.tree_size)
        for one in (found.then, found.now)
    ))  # fmt: skip


def _changed(found: AskedAgain, said: str) -> Table:
    def made() -> Iterator[Row]:
        # Which was kept is said above; here each hull alone is looked at.
        for hull in again_sheet(found, said, as_kept=True, most=len(found.changes)).changed:
            then = hull.why_then if hull.why_then != hull.why else ""
            yield hull.code, hull.then or None, hull.now, str(HOW_WORDS[hull.how]), hull.why, then, hull.since

    return Table("changed", _("Hulls that are told otherwise today"), _("One hull."), (
        Column("hull", _("Hull"), _("The number on its plate, or what it goes by."), wide=1.7),
        Column("then", _("Then"), _("Its verdict then."), "verdict", wide=0.9, none=_("not made then")),
        Column("now", _("Now"), _("Its verdict now."), "verdict", wide=0.9),
        Column("how", _("What changed"), _("In which way it is told otherwise."), wide=1.3),
        Column("why", _("Because, now"), _("On what the verdict now rests."), wide=2.4),
        Column("why_then", _("Because, then"), _("On what the verdict then rested, where that was something else."), wide=2),
        Column("since", _("Recorded of it since"), _("What was recorded of it and of what it was made of."), wide=2.2),
    ), Streamed(len(found.changes), made), _("No hull is told otherwise today."))  # fmt: skip


def _missing(found: AskedAgain) -> Table:
    """Only the records that one of the two answers alone tells of."""
    now, then = (dict.fromkeys(gap.said for gap in gaps) for gaps in (found.gaps_new, found.gaps_gone))
    return Table("missing", _("Missing records that only one answer tells of"), _("One missing record."), (
        Column("which", _("When"), _("Known to be missing now, or missing then and no more."), wide=1.6),
        Column("gap", _("Missing record"), _("What is missing."), wide=5),
    ), (
        *((_("known to be missing now"), gap) for gap in now), *((_("missing then, and no more"), gap) for gap in then),
    ), _("None."))  # fmt: skip


def _hulls(found: AskedAgain, known: Known) -> Table:
    """Every hull that shares it or may, then or now; the others are counted above."""
    every = _then_or_now(found)

    def made() -> Iterator[Row]:
        for line, then, now in every:
            place = known.place(line.place) if line.place else _("place unknown")
            product = str(line.node.about.get("product") or "")
            yield line.node.said, then, now, product, place, line.built.last, line.node.uid

    return Table("hulls", _("Every hull that shared it or may have, or does today"), _("One hull."), (
        Column("hull", _("Hull"), _("The number on its plate, or what it goes by."), wide=1.8),
        Column("then", _("Then"), _("Its verdict then."), "verdict", wide=1, none=_("not made then")),
        Column("now", _("Now"), _("Its verdict now."), "verdict", wide=1),
        Column("model", _("Model"), _("The product."), wide=1),
        Column("place", _("Place"), _("Where it is now."), wide=2.2),
        Column("made", _("Made"), _("When it left the mould, at the latest."), "time", wide=1.3),
        Column("uid", _("Identifier"), _("The hull's identifier, which never changes.")),
    ), Streamed(len(every), made), _("None."))  # fmt: skip


def _then_or_now(found: AskedAgain) -> list[tuple[Line, Verdict | None, Verdict]]:
    """Those hulls as told now, with the verdict of each moment: None where it was not made."""
    then = {line.hull: line for line in found.then.lines}
    every: list[tuple[Line, Verdict | None, Verdict]] = []
    for line in found.now.lines:
        before = then.pop(line.hull, None)
        told = before.verdict if before else None
        if line.verdict != "cannot" or told not in ("cannot", None):
            every.append((line, told, line.verdict))
    return [*every, *((line, line.verdict, "cannot") for line in then.values() if line.verdict != "cannot")]


KIND = PaperKind(
    name="saved-scope",
    prefix="SS",
    title=gettext_lazy("Saved scope"),
    asks={"number": gettext_lazy("the number of the saved scope")},
    make=saved_scope_paper,
    page="saved_scope",
)
