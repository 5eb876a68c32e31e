"""The paper of a case: its complaints, what was suspected, held, looked for, tested, decided and told, and how it ended.

A buyer's name, contact and own words stand in no paper, whoever asks: they can be erased, and a paper cannot.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.drawings.time_line import TimeRow, time_line
from trace.exports.asked import Asked, PaperError, for_reader
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, history_table, plant_name
from trace.exports.paper import Column, Facts, Paper, Part, Picture, Row, Said, Table
from trace.genealogy.answer import what_was_known
from trace.genealogy.containment import RESULTS, Progress
from trace.genealogy.graph import Node
from trace.genealogy.places import places
from trace.genealogy.walk import nodes
from trace.recording.acts.cases import CloseCase, Decide, KeepScope, RecordTest, Suspect, TellConsignee
from trace.recording.acts.complaint_words import CAUSES, HULLS, SUSPECT_STANDS, SYMPTOMS, WAYS, word
from trace.recording.acts.containment import RESULT_WORDS
from trace.recording.floor.complaints import LARGEST
from trace.sheets.cases.contained import CaseHold, WalkOver, holds_of, reach_said, walks_of
from trace.sheets.cases.said import (
    at_places,
    cause_said,
    gaps_of_case,
    hull_words,
    letter,
    time_rows,
    use,
)
from trace.sheets.cases.spots import plan_of
from trace.sheets.cases.told import Case, Complaint, digests, hulls, told
from trace.sheets.contracts import grouped
from trace.sheets.facts.entries import Entry
from trace.sheets.facts.known import Known, known_of
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.history import history
from trace.sheets.hulls.sheet import caution

TIMES_WIDE = 820.0  # drawing units: type of the usual size on a sheet of A4
TIMES_ROWS = 24  # of one drawing, so that it stands on one sheet
DISCLOSED = gettext_lazy("A buyer's name, contact and own words stand in no paper: they can be erased, a paper cannot.")


@dataclass(frozen=True, slots=True)
class Gathered:
    """A case as known then, with all that its paper names. `hulls`, `places` by the hull's uid; `words` by digest."""

    case: Case
    complaints: Sequence[Complaint]
    hulls: Mapping[str, Node]
    places: Mapping[str, str]
    holds: Sequence[CaseHold]
    walks: Sequence[WalkOver]
    known: Known

    def hull(self, one: Complaint) -> Node | None:
        return self.hulls.get(one.hull or "")

    def model(self, one: Complaint) -> str:
        here = self.hull(one)
        return str((here.about.get("product") if here else "") or one.says.get("product") or "")

    def words(self, entry: Entry, field: str) -> str:
        """Free words of an event; "" where none were given."""
        return self.known.notes.text(entry.says.get(field))


def case_paper(asked: Asked) -> Paper:
    """Raises LookupError where no such case was open or closed then, PaperError for what is no number."""
    typed = asked.words["number"]
    if not typed.isascii() or not typed.isdigit() or int(typed) > LARGEST:
        raise PaperError(_("A case is asked for by its number."))
    _known, size = what_was_known(asked.as_known_on)
    g = _gathered(int(typed), asked)
    name = g.words(g.case.entry, "name")
    return Paper(
        kind="case",
        what=_("Case report"),
        title=_("Case %(n)d: %(name)s") % {"n": g.case.number, "name": name},
        question=(("number", str(g.case.number)),),
        as_known_on=asked.as_known_on,
        records=size,
        gaps=gaps_of_case(g.complaints, suspected=bool(g.case.suspects)),
        parts=tuple(_parts(g, asked, size)),
        caution=caution(),
        plant=plant_name(asked.as_known_on),
    )


def _gathered(number: int, asked: Asked) -> Gathered:
    on = asked.as_known_on
    every = told(on)
    one = every.cases.get(number)
    if one is None:
        raise LookupError(_("There is no case %(number)s.") % {"number": number})
    inside = every.inside(number)
    ids = [here.id for here in hulls(complaint.hull for complaint in inside).values()]
    found, at = nodes(ids, on), places(ids, on)
    holds = holds_of(one, on)
    walks = walks_of(one, holds, on)
    known = _named(one, inside, found, at, holds, walks, on)
    known = for_reader(known, asked.reader)
    by_uid = {node.uid: node for node in found.values()}
    return Gathered(one, inside, by_uid, {found[id_].uid: key for id_, key in at.items()}, holds, walks, known)


def _named(
    one: Case, inside: Sequence[Complaint], found: Mapping[int, Node], at: Mapping[int, str],
    holds: Sequence[CaseHold], walks: Sequence[WalkOver], on: datetime,
) -> Known:  # fmt: skip
    """Plant data and words behind all of it."""
    looked = [line for walk in walks for line in (*walk.progress.hulls, *walk.progress.besides)]
    where = {
        *at.values(),
        *(f"gone: {c.says['through']}" for c in inside if c.says.get("through")),
        *(f"gone: {step.says['consignee']}" for step in one.of(TellConsignee)),
        *(line.last.place for line in looked if line.last),
        *(line.seen.place for line in looked if line.seen),
    }
    people = [
        *(hold.person for hold in holds), *(walk.begun.person for walk in walks),
        *(line.seen.person for line in looked if line.seen),
    ]  # fmt: skip
    abouts = [*(node.about for node in found.values()), *({"product": c.says.get("product")} for c in inside)]
    known = known_of([one.entry, *one.steps], abouts, places=where, as_known_on=on, people=people)
    besides = notes([
        *digests([one.entry, *one.steps]), *(hold.why for hold in holds),
        *(line.seen.remark for line in looked if line.seen),
    ])  # fmt: skip
    return replace(known, notes=replace(known.notes, texts={**besides.texts, **known.notes.texts}))


def _parts(g: Gathered, asked: Asked, size: int) -> Iterator[Part]:
    yield Facts("", (
        (_("State"), _("open") if g.case.open else _("closed")),
        (_("Opened"), f"{timezone.localtime(g.case.entry.happened):%-d %b %Y}"),
        (_("Owner"), g.known.person(g.case.entry.person)),
        (_("Complaints"), str(len(g.complaints))),
    ))  # fmt: skip
    yield from _stops(g)
    for model, said in at_places(g.complaints, {one.number: g.model(one) for one in g.complaints}).items():
        body = g.known.plant.newest("product", model)
        if pair := plan_of(body, said, model):
            yield Picture(_("Where on the hull: %(model)s") % {"model": body.get("name") or model}, pair.wide)
    yield from _times(time_rows(g.complaints, {uid: node.happened for uid, node in g.hulls.items()}))
    yield _complaints(g)
    yield _suspects(g)
    yield _scopes(g)
    yield _holds(g)
    yield from _walks(g)
    yield _tests(g)
    yield _decisions(g)
    yield _told(g)
    yield _end(g)
    yield history_table("history", _("Step by step"), _("One step of the case."), history([g.case.entry, *g.case.steps], g.known, {}))
    question = _("case %(n)d, as known on %(on)s") % {"n": g.case.number, "on": asked.as_known_on.isoformat()}
    yield Said("", (str(DISCLOSED),))
    yield again(question, grouped(size), asked.reader)


def _stops(g: Gathered) -> Iterator[Said]:
    lines = tuple(
        _("%(on)s: %(why)s; %(stops)s") % {"on": hold.on, "why": g.known.notes.text(hold.why), "stops": reach_said(hold)}
        for hold in g.holds
        if hold.ended is None
    )
    if lines:
        yield Said(_("On hold"), lines, "stop")


def _times(rows: Sequence[TimeRow]) -> Iterator[Part]:
    """The time line whole: as many drawings as its rows need, on one axis."""
    days = [day for row in rows for day in row.days]
    if not days:
        return
    for n in range(0, len(rows), TIMES_ROWS):
        title = _("Made, sold, failed, told") if n == 0 else _("Made, sold, failed, told (continued)")
        yield Picture(title, time_line(rows[n : n + TIMES_ROWS], width=TIMES_WIDE, days=days))
    yield Said("", (_("Bar: made. Dotted: not sold yet. Ring: sold. Thick: in use. Cross: failed. Flag: told."),))


def _complaints(g: Gathered) -> Table:
    untold = _("not told")
    return Table("complaints", _("The complaints"), _("One complaint."), (
        Column("number", _("No."), _("The complaint's number."), "count", wide=0.45),
        Column("hull", _("Hull"), _("The number on its plate, where its hull is known."), wide=1.75, none=_("not known")),
        Column("hull_is", _("It is"), _("Model, colour, mould and place of the hull."), wide=2.2, none=_("not known")),
        Column("plate", _("On the plate"), _("What of the plate was read.")),
        Column("model", _("Model"), _("The product.")),
        Column("symptom", _("Symptom"), _("What is wrong with it."), wide=1.5),
        Column("place", _("At"), _("The place on the drawing."), wide=0.7, none=untold),
        Column("made", _("Made"), _("When the hull was made."), "day", wide=1.1, none=_("not known")),
        Column("month", _("Month made"), _("When it was made, as it was told, while its hull is not known.")),
        Column("sold", _("Sold"), _("When it was sold."), "day", wide=1.1, none=untold),
        Column("failed", _("Failed"), _("When it failed."), "day", wide=1.1, none=untold),
        Column("told", _("Told"), _("When it was told of."), "day", wide=1.1, none=untold),
        Column("use", _("In use"), _("How long it was used."), wide=0.9, none=untold),
        Column("through", _("Through"), _("The consignee who passed it on."), wide=1.5, none=untold),
        Column("open", _("Open"), _("Whether it was open then."), "flag"),
        Column("photos", _("Photos"), _("How many pictures are kept with it."), "count"),
    ), tuple(_complaint(g, one) for one in g.complaints), _("No complaint is in it."))  # fmt: skip


def _complaint(g: Gathered, one: Complaint) -> Row:
    says, here, through = one.says, g.hull(one), str(one.says.get("through") or "")
    known = hull_words(here.about, g.places.get(here.uid), g.known) if here else None
    return (
        one.number, here.said if here else None, known, str(says.get("plate") or ""), g.model(one),
        word(SYMPTOMS, says["symptom"]), says.get("spot") or None, timezone.localtime(here.happened).date() if here else None,
        str(says.get("month") or ""),
        *(date.fromisoformat(day) if (day := one.day(name)) else None for name in ("sold", "failed", "reported")),
        use(says) or None, g.known.place(f"gone: {through}") if through else None, one.open,
        len(one.entry.part("blobs")),
    )  # fmt: skip


def _letters(case: Case) -> dict[tuple[str, ...], str]:
    return {cause: letter(n) for n, cause in enumerate(case.suspects)}


def _suspects(g: Gathered) -> Table:
    letters = _letters(g.case)
    return Table("suspects", _("What was suspected"), _("One thing said of one suspect; the last that was said of it counts."), (
        Column("suspect", _("Suspect"), _("The letter it goes by."), wide=0.7),
        Column("said", _("Hulls that"), _("What the hulls may have in common."), wide=2.6),
        Column("cause", _("Cause"), _("The same in the words by which it is asked."), wide=2),
        Column("stands", _("It is"), _("Suspected, shown on the part or cleared."), wide=1.2),
        Column("why", _("Why"), _("On what that is said."), wide=2.6),
        Column("who", _("Who"), _("Who said it."), wide=1.3),
        Column("when", _("When"), _("When it was said."), "time", wide=1.2),
        Column("last", _("Counts"), _("It is the last that was said of this suspect."), "flag", wide=0.7),
    ), tuple(
        (
            letters[cause], cause_said(cause), " ".join(cause), word(SUSPECT_STANDS, step.says["stands"]),
            g.words(step, "reason"), g.known.person(step.person), step.happened, g.case.suspects[cause] is step,
        )
        for step in g.case.of(Suspect) for cause in (tuple(step.says["cause"]),)
    ), _("Nothing yet."))  # fmt: skip


def _scopes(g: Gathered) -> Table:
    letters = _letters(g.case)
    return Table("scopes", _("Scopes, as known on the day they were kept"), _("One scope that was kept."), (
        Column("suspect", _("Suspect"), _("The letter of the suspect."), wide=0.7),
        Column("said", _("Hulls that"), _("What was asked."), wide=3),
        Column("cause", _("Cause"), _("The same in the words by which it is asked."), wide=2.2),
        Column("certain", _("certain"), _("Hulls that shared it."), "count", wide=0.7),
        Column("may", _("may"), _("Hulls that might."), "count", wide=0.6),
        Column("cannot", _("cannot"), _("Hulls that could not."), "count", wide=0.7),
        Column("known_on", _("As known on"), _("The moment for which it was asked."), "time", wide=1.2),
        Column("records", _("Records"), _("How many records were known then."), "count"),
        Column("who", _("Who"), _("Who kept it."), wide=1.3),
    ), tuple(
        (
            letters.get(tuple(says["cause"]), ""), cause_said(says["cause"]), " ".join(says["cause"]),
            says["certain"], says["may"], says["cannot"], datetime.fromisoformat(says["known"]), says["tree_size"],
            g.known.person(step.person),
        )
        for step in g.case.of(KeepScope) for says in (step.says,)
    ), _("None was kept."))  # fmt: skip


def _holds(g: Gathered) -> Table:
    return Table("holds", _("Holds"), _("One hold laid for the case, or on all that shares a suspect."), (
        Column("laid", _("Laid"), _("When it was laid."), "time", wide=1.2),
        Column("on", _("On what"), _("What it was laid on."), wide=2.6),
        Column("why", _("Why"), _("Why it was laid."), wide=2.2),
        Column("who", _("Who"), _("Who laid it."), wide=1.3),
        Column("ended", _("Ended"), _("When it was ended."), "time", wide=1.2, none=_("in force")),
        Column("here", _("Here"), _("Hulls in the plant that it stopped then."), "count", wide=0.6),
        Column("gone", _("Gone"), _("Hulls that had left, which it is on too."), "count", wide=0.6),
        Column("rule", _("Kind"), _("The kind of hold.")),
        Column("hold", _("Identifier"), _("The identifier of the hold.")),
    ), tuple(
        (h.laid, h.on, g.known.notes.text(h.why), g.known.person(h.person), h.ended, h.here, h.gone, h.rule, h.uid)
        for h in g.holds
    ), _("No hold was laid for it."))  # fmt: skip


def _walks(g: Gathered) -> Iterator[Table]:
    """How the hulls were looked for, and what was seen of each."""
    yield Table("walks", _("Walks to find the hulls"), _("One walk."), (
        Column("begun", _("Begun"), _("When it began."), "time", wide=1.2),
        Column("ended", _("Ended"), _("When it was ended."), "time", wide=1.2, none=_("under way")),
        Column("who", _("Who"), _("Who began it."), wide=1.4),
        Column("of", _("Of"), _("The hold or the cause whose hulls were looked for."), wide=2.4),
        *(
            Column(name, title, about, "count", wide=0.75) for name, title, about in (
                ("on_list", _("On the list"), _("Hulls to find.")),
                ("found", _("Found"), _("Seen, and nothing more said.")),
                ("tagged", _("Tagged"), _("Seen, with its hold tag on.")),
                ("passed", _("Good"), _("Sorted good.")),
                ("failed", _("Bad"), _("Sorted bad.")),
                ("not_found", _("Not found"), _("In the plant by the book, and not seen.")),
                ("gone", _("Gone"), _("Had left by the book.")),
                ("scrapped", _("Scrapped"), _("Scrapped by the book.")),
            )
        ),
        Column("walk", _("Identifier"), _("The identifier of the walk.")),
    ), tuple(_walk(g, walk) for walk in g.walks), _("Nobody walked for it."))  # fmt: skip
    yield Table("walked", _("Each hull that was looked for"), _("One hull of one walk."), (
        Column("hull", _("Hull"), _("The number on its plate."), wide=1.7),
        Column("result", _("Result"), _("What was said of it last."), wide=1.1, none=_("not seen")),
        Column("seen_at", _("Where"), _("Where it was seen."), wide=1.6),
        Column("who", _("Who"), _("Who saw it."), wide=1.4),
        Column("when", _("When"), _("When it was seen."), "time", wide=1.2, none=_("never")),
        Column("book", _("By the book"), _("Its last recorded place, or to whom it went."), wide=1.8, none=_("place unknown")),
        Column("remark", _("Remark"), _("What was said besides."), wide=1.6),
        Column("on_list", _("On the list"), _("It was on the list."), "flag"),
        Column("walk", _("Walk"), _("The identifier of the walk.")),
    ), tuple(row for walk in g.walks for row in _walked(g, walk)), _("None."))  # fmt: skip


def _walk(g: Gathered, walk: WalkOver) -> Row:
    progress: Progress = walk.progress
    counts = (progress.count(result) for result in (*RESULTS, ""))
    return (
        walk.begun.begun, walk.begun.ended, g.known.person(walk.begun.person), walk.of, len(progress.hulls), *counts,
        len(progress.gone), len(progress.scrapped), walk.begun.uid,
    )  # fmt: skip


def _walked(g: Gathered, walk: WalkOver) -> Iterator[Row]:
    for on_list, lines in ((True, walk.progress.hulls), (False, walk.progress.besides)):
        for line in lines:
            seen = line.seen
            yield (
                line.node.said, _(RESULT_WORDS[seen.result]) if seen else None,
                g.known.place(seen.place) if seen and seen.place else "", g.known.person(seen.person) if seen else "",
                seen.happened if seen else None, g.known.place(line.last.place) if line.last else None,
                g.known.notes.text(seen.remark) if seen else "", on_list, walk.begun.uid,
            )  # fmt: skip


def _tests(g: Gathered) -> Table:
    return Table("tests", _("Tests"), _("One test."), (
        Column("day", _("Day"), _("When it was tested."), "day", wide=1, none=_("not told")),
        Column("what", _("What"), _("What was looked at."), wide=3),
        Column("result", _("Result"), _("What came of it."), wide=3),
        Column("by_whom", _("By whom"), _("Who tested."), wide=1.6, none=_("not told")),
        Column("who", _("Recorded by"), _("Who recorded it."), wide=1.4),
        Column("recorded", _("Recorded"), _("When it was recorded."), "time", wide=1.2),
    ), tuple(
        (
            date.fromisoformat(step.says["day"]) if step.says.get("day") else None, g.words(step, "what"),
            g.words(step, "result"), g.words(step, "by_whom") or None, g.known.person(step.person), step.recorded,
        )
        for step in g.case.of(RecordTest)
    ), _("None."))  # fmt: skip


def _decisions(g: Gathered) -> Table:
    return Table("decisions", _("Decisions"), _("One decision."), (
        Column("when", _("When"), _("When it was decided."), "time", wide=1.2),
        Column("what", _("What, and why"), _("What was decided, and why."), wide=6),
        Column("who", _("Who"), _("Who decided."), wide=1.6),
    ), tuple((s.happened, g.words(s, "reason"), g.known.person(s.person)) for s in g.case.of(Decide)), _("None."))  # fmt: skip


def _told(g: Gathered) -> Table:
    return Table("told", _("Who was told"), _("One consignee who was told once."), (
        Column("day", _("Day"), _("When they were told."), "day", wide=1),
        Column("consignee", _("Consignee"), _("Who was told."), wide=2.4),
        Column("way", _("How"), _("By what means."), wide=1.2),
        Column("answer", _("What was said or answered"), _("What was said or answered."), wide=3.4),
        Column("who", _("Who told them"), _("Who recorded it."), wide=1.6),
    ), tuple(
        (
            date.fromisoformat(step.says["day"]), g.known.place(f"gone: {step.says['consignee']}"),
            word(WAYS, step.says["way"]), g.words(step, "answer"), g.known.person(step.person),
        )
        for step in g.case.of(TellConsignee)
    ), _("Nobody."))  # fmt: skip


def _end(g: Gathered) -> Facts:
    """How it was closed the last time, where it still is."""
    if g.case.open:
        return Facts(_("How it was closed"), ((_("State"), _("It is open.")),))
    last = g.case.of(CloseCase)[-1]
    return Facts(_("How it was closed"), (
        (_("Cause"), word(CAUSES, last.says["cause"])),
        (_("Hulls of its complaints"), word(HULLS, last.says["hulls"])),
        (_("On what"), g.words(last, "reason")),
        (_("Closed"), _("%(when)s, %(who)s") % {
            "when": f"{timezone.localtime(last.happened):%-d %b %Y %H:%M}", "who": g.known.person(last.person),
        }),
    ))  # fmt: skip


KIND = PaperKind(
    name="case",
    prefix="CR",
    title=gettext_lazy("Case report"),
    asks={"number": gettext_lazy("the number of the case")},
    make=case_paper,
    page="case",
)
