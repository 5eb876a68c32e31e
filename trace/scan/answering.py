"""One POST on its way through: a code finds its slot, what is complete is recorded, what is refused is said."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.errors import SentBefore
from plant.sign_on import device_of, show_badge
from trace import lookup
from trace.codes import printed
from trace.photos.evidence import settle
from trace.recording.acts.setup import Define
from trace.recording.acts.strange_code import Shown
from trace.recording.answers import Answer
from trace.recording.commands import By, Command
from trace.recording.floor.standing import Found
from trace.recording.record import record
from trace.scan import people, posted
from trace.scan.asked import NONE, PRESSED, READ, is_figure, pressed_now, say_without, wanting, without
from trace.scan.begun import left_of
from trace.scan.cautions import keep_read
from trace.scan.hold_notice import LISTED
from trace.scan.hold_notice import READ as HOLDS_READ
from trace.scan.just_refused import READ as REFUSED_READ
from trace.scan.just_refused import Refused
from trace.scan.label_links import labels_url
from trace.scan.letting_pass import LET, REFUSED, let_pass, may_let_pass, passed_by, still_refused
from trace.scan.page import FIGURES, Field, Verdict
from trace.scan.posted import Posted
from trace.scan.sight import MANY, Sight, Slot, Station, open_slot, put, slot_for
from trace.scan.stations.parts import ANEW, LOOK, MORE, OFF
from trace.scan.taken import taken
from trace.scan.verdict import plain_refusal, verdict

LATE, HAPPENED = "late", "happened"
TOLD = "told"  # the slot whose code is in it already, as somebody said while the act is still being put together
# Refusals of what was typed: the codes scanned for it are right and stay.
NEEDS_A_SECOND = ("UNTRAINED", "OPENING-ALONE", "RELABEL-ALONE")
ABOUT_FIGURES = ("AMOUNT-UNREADABLE", "CHARGE-HEAVY", "CHARGE-LIGHT", "CHECK-WEIGHT-AGAIN")
PAPER_MS = 60_000  # a time written on paper is good to the minute


def not_given() -> str:
    """What stands at a field that was asked for and left empty."""
    return _("This is missing: fill it in, then send again.")


@dataclass
class Shows:
    """What the page says beside the state of the station."""

    verdict: Verdict | None = None
    said: str = ""
    errors: dict[str, str] | None = None
    refused: tuple[Refused, ...] = ()  # what was refused here and is not read yet, the newest last


def see(place: Station, sight: Sight, *more: str) -> None:
    """Look up every code that is held, and those given beside; two statements."""
    sight.looked.clear()
    kinds = [kind for slot in place.slots(sight) for kind in slot.kinds]
    texts = [code for slot in place.slots(sight) for code in sight.held.get(slot.name, "").split(MANY)]
    sight.found = lookup.look([*texts, *more], sight.plant, kinds, sight.known)
    # A station may have other slots once it sees what is held: an open mould takes boxes and tubs.
    others = [c for slot in place.slots(sight) for c in sight.held.get(slot.name, "").split(MANY)]
    if set(others) - set(texts) - {""}:
        sight.found |= lookup.look(set(others) - set(texts), sight.plant, kinds, sight.known)


@dataclass
class Answering:
    """One POST on its way through: what came, what the station sees."""

    request: HttpRequest
    place: Station
    sight: Sight
    came: Posted
    refused: str = ""

    def answer(self) -> Shows | str:
        """What to show, or an address to go to."""
        sight, came = self.sight, self.came
        sight.held, sight.do, sight.scan_id = came.held, came.do, str(came.scan_id)
        self.refused = sight.held.pop(REFUSED, "")
        self._look()
        if came.trouble:
            return Shows(plain_refusal(_("The photo was not read."), came.trouble, ""))
        if came.overrides or came.fact:
            return self._again()
        own = came.do.startswith((OFF, MORE, REFUSED_READ)) or came.do in (LOOK, READ, ANEW, HOLDS_READ)
        return self._pressed() if own else self._came()

    def _look(self) -> None:
        """Look up what came. What was typed where a figure is asked for may be a code: scanners do not know."""
        sight, came = self.sight, self.came
        strange = sight.text(came.asked) if came.asked and not came.code else ""
        if is_figure(strange):
            strange = ""
        see(self.place, sight, came.code or strange, came.badge)
        if strange and self._is_a_code(strange):
            came.code = strange
            sight.held.pop(came.asked)
        elif came.code and is_figure(came.code) and self._kind_asked() in FIGURES and not sight.found[came.code].kinds:
            sight.held[came.asked], came.code = came.code, ""

    def _pressed(self) -> Shows:
        """A button of the page itself, by which nothing is recorded."""
        came = self.came
        if came.do == READ:
            keep_read(self.request, str(self.place.caution))
            return Shows()
        if came.do == HOLDS_READ or came.do.startswith(REFUSED_READ):
            if self.refused:
                self.sight.held[REFUSED] = self.refused
            return Shows(still_refused(self.request, self.sight))
        if came.do == ANEW:
            self.sight.held = {name: self.sight.held[name] for name in self.place.keeps if name in self.sight.held}
            see(self.place, self.sight)
            return Shows(said=_("Put aside; nothing was recorded by it."))
        if came.do.startswith(OFF):
            return self._take_out(came.do.removeprefix(OFF))
        return self._early(None) or Shows()

    def _came(self) -> Shows | str:
        """A code, an answer to what was asked, or the press of what was done."""
        if self.came.code:
            self.sight.held.pop(PRESSED, None)
            return self._scanned()
        return self._given() or self._act(None, passed={})

    def _is_a_code(self, text: str) -> bool:
        """What was typed where a figure is asked for, and is a code of ours: a scanner does not know what is asked."""
        found = self.sight.found[text]
        return self._kind_asked() in FIGURES and (bool(found.kinds) or found.thing is not None)

    def _kind_asked(self) -> str:
        """The kind of the field that the page asked for, "" for a code."""
        kinds = {f.name: f.kind for f in self.place.fields(self.sight)} if self.came.asked else {}
        return kinds.get(self.came.asked, "")

    def _given(self) -> Shows | None:
        """What was asked for is answered, or not yet; None when the act may go on."""
        sight, came = self.sight, self.came
        fields = self.place.fields(sight)
        asked = next((f for f in fields if f.name == came.asked), None)
        if asked is not None and asked.without and not sight.text(asked.name) and came.do in ("send", NONE):
            say_without(sight, asked.name)
        pressed = next((a for a in self.place.actions(sight) if a.needs and a.value == came.do), None)
        if pressed is not None:
            sight.held[PRESSED] = pressed.value
        elif came.do not in ("send", NONE, ""):
            sight.held.pop(PRESSED, None)
        return self._wanting_still(fields)

    def _wanting_still(self, fields: Sequence[Field]) -> Shows | None:
        """Asks for the first thing still missing; None when nothing is, or when something else is done meanwhile."""
        sight, came = self.sight, self.came
        missing = wanting(self.place, sight, fields)
        waits = pressed_now(self.place, sight)
        if waits is not None and missing is None:
            sight.do = waits.value
            return None
        if missing is None or (waits is None and came.do not in ("send", NONE)):
            return None
        if open_slot(self.place, sight) is not None and waits is None:
            return None
        unanswered = missing.name == came.asked and came.do == "send"
        return Shows(errors={missing.name: not_given()} if unanswered else None)

    def _scanned(self) -> Shows | str:
        """A code came: a person's badge, a thing of this station, or something else."""
        sight, found = self.sight, self.sight.found[self.came.code]
        if found.thing is not None and found.thing.kind == "person" and not found.dead:
            return self._badge(found)
        slot = slot_for(self.place, sight, found) if found.kinds and not found.dead else None
        if slot is None and (there := self.place.onward(sight, found)):
            return there
        if slot is None:
            said = self.place.reads(sight, self.came.code) if not found.kinds and not found.trouble else ""
            return Shows(said=said) if said else self._no_place(found)
        return self._into(slot, found)

    def _into(self, slot: Slot, found: Found) -> Shows | str:
        """The code fills its slot: the act is judged as far as it goes, and done when nothing is missing."""
        sight = self.sight
        sight.typed, sight.scanned = found.code, found
        before = sight.codes(slot.name)
        if sight.text(TOLD) == slot.name:
            sight.held.pop(TOLD)
        put(slot, sight, found.code)
        if slot.name == self.place.thing and before != (found.code,):
            sight.held = left_of(self.place, found.code) | sight.held
            see(self.place, sight)
        sight.found[found.code] = found
        shows = self._early(slot) or self._act(slot, passed={})
        # What the page asks for next tells of any other slot that it is filled.
        if shows == Shows() and (slot.many or slot.optional):
            shows.said = taken(slot, found, before, sight.codes(slot.name))
        return shows

    def _take_out(self, code: str) -> Shows:
        """A code leaves the slot that gathers several: it was scanned by mistake, or was refused since."""
        name = code
        for slot in self.place.slots(self.sight):
            if slot.many and code in self.sight.codes(slot.name):
                name = self.sight.found[code].key or printed(code)
                self.sight.typed = code
                self._drop(slot)
        see(self.place, self.sight)
        return Shows(said=_("%(name)s is off this list; nothing was recorded.") % {"name": name})

    # What a code may be besides a thing of this station.

    def _badge(self, found: Found) -> Shows | str:
        assert found.thing is not None  # noqa: S101 - the caller has looked
        if self.refused:
            self.sight.held[REFUSED] = self.refused
        done = people.shown(self.request, found.thing, self.place.slug, self.sight.held | self.sight.aside)
        if done.sign_in:
            show_badge(self.request, found.code)
            return done.sign_in
        self.sight.person = people.person_here(self.request)
        pressed = self.place.badge(self.sight) if self.sight.person == found.thing.key and not done.helper else ""
        if pressed:
            self.sight.do = pressed
            return self._act(None, passed={})
        if not done.helper:
            return Shows(still_refused(self.request, self.sight), done.said)
        self.sight.held.pop(REFUSED, None)
        self.sight.held[people.HELPER] = done.helper
        self.sight.held.pop(people.WANTS_HELPER, None)
        shows = self._act(None, passed={})
        shows.said = shows.said or done.said
        return shows

    def _no_place(self, found: Found) -> Shows:
        kinds = tuple(dict.fromkeys(k for slot in self.place.slots(self.sight) for k in slot.kinds))
        wanted = open_slot(self.place, self.sight)
        if wanted is not None and not found.kinds & set(wanted.kinds):
            kinds = wanted.kinds
        code = self.came.code
        if found.thing is not None:  # a key typed for something else: its label says what it is
            code = lookup.label_of(found.thing) or code
        command = Shown(code=code, wanted=kinds or lookup.TYPED)
        answers = self._record([command], passed={})
        if isinstance(answers, Shows):
            return answers
        leads = next((slot for slot in self.place.slots(self.sight) if slot.name == self.place.leads), None)
        if leads is not None and (not found.kinds or found.kinds & set(leads.kinds)):
            self.sight.held = {n: v for n, v in self.sight.held.items() if n not in (leads.name, *leads.clears)}
        return Shows(verdict(answers), self._misspelt(code, found))

    def _misspelt(self, code: str, found: Found) -> str:
        """A rack without its level, or a letter typed for a digit where the digits are a number known here."""
        levels = [t.key for t in self.sight.plant.of_kind("place") if t.key.upper().startswith(f"{code.upper()}-")]
        if levels and not found.kinds:
            words = _("%(place)s has several levels: scan or type one of %(levels)s.")
            return words % {"place": code, "levels": ", ".join(levels[:6])}
        digits = code.upper().translate(str.maketrans("OI", "01"))
        if found.kinds or digits == code.upper():
            return ""
        guess = lookup.look([digits], self.sight.plant, lookup.TYPED)[digits]
        words = _("%(guess)s is known here: a number has the digit 0, not the letter O, and 1, not I.")
        return words % {"guess": digits} if guess.kinds else ""

    def _early(self, slot: Slot | None, passed: dict[str, str] | None = None) -> Shows | None:
        """A refusal that can be given before the act is whole; None when the act may go on. The code that is in the
        way leaves its slot: the one just scanned, or the one that the station says the rule is about."""
        early = self.place.early(self.sight)
        if early is None or self.sight.text(TOLD):
            return None
        command, rules = early
        before = dict(self.sight.held)
        answers = self._record([command], passed=passed or {}, ahead=rules)
        if isinstance(answers, Shows):
            return answers
        if answers[0].outcome != "refused":
            return None
        blamed = self.place.blames.get(answers[0].code)
        slot = next((one for one in self.place.slots(self.sight) if one.name == blamed), slot)
        judged = self._judged(before, slot) | {"early": "yes"}
        shown = verdict(answers, roles=self._roles(""), judged=judged, passed=passed)
        if slot is not None:
            self._drop(slot)
        self._wait(shown, self.came.scan_id, judged, passed or {})
        return Shows(shown)

    def _judged(self, before: dict[str, str], slot: Slot | None) -> dict[str, str]:
        """What the ways out of a refusal send again."""
        return before | {
            "scan_id": str(self.came.scan_id), "do": self.sight.do, "slot": slot.name if slot else "",
            "typed": self.sight.typed, LISTED: self.sight.listed[2],
        }  # fmt: skip

    def _wait(self, shown: Verdict, scan: UUID, judged: dict[str, str], passed: dict[str, str]) -> None:
        """A refusal that may be let pass stands there until somebody has, or scans on."""
        if shown.override:
            self.sight.held[REFUSED] = json.dumps({"scan": str(scan), "judged": judged, "passed": passed})

    # The act itself.

    def _again(self) -> Shows:
        """The same once more, as a fact or with an override; the form holds what was judged."""
        came = self.came
        self.sight.typed = came.typed
        slot = next((one for one in self.place.slots(self.sight) if one.name == came.slot), None)
        if came.fact:
            if came.early:
                self.sight.held[TOLD] = slot.name if slot else came.slot or "yes"
            return self._act(slot, passed=came.passed, mode="tells")
        may = may_let_pass(self.request, self.sight, self.came)
        if isinstance(may, str) or not came.reason:
            error = may if isinstance(may, str) else _("The reason is missing: choose one and write a few words.")
            return self._not_let_pass(slot, error) if came.early else self._act(slot, passed=came.passed, error=error)
        return self._let_pass(slot, *may)

    def _let_pass(self, slot: Slot | None, person: str, helper: str) -> Shows:
        """Somebody allows it, with a reason: the same act once more, as far as it goes."""
        came = self.came
        # One badge that was not enough is no reason to refuse the next one.
        self.came = replace(came, scan_id=posted.after(came.scan_id, f"override {came.rule} {person}"))
        passed = came.passed | {came.rule: came.reason}
        if came.early:
            there = self.sight.codes(came.slot)
            code = came.typed if came.typed in there else self.sight.text(came.slot)
            self.sight.held[LET] = let_pass(self.request, person, passed, came.slot, code)
            return self._early(slot, passed) or self._act(slot, passed={})
        return self._act(slot, passed=passed, person=person, helper=helper)

    def _not_let_pass(self, slot: Slot | None, error: str) -> Shows:
        """The early refusal stands again, with why it was not let pass."""
        refused = self._early(slot, self.came.passed)
        if refused is not None and refused.verdict is not None and refused.verdict.override:
            way = replace(refused.verdict.override, error=error)
            refused.verdict = replace(refused.verdict, override=way, replayed=False)
        return refused or Shows(said=error)

    def _act(
        self,
        slot: Slot | None,
        *,
        passed: dict[str, str],
        mode: str = "asks",
        person: str = "",
        helper: str = "",
        error: str = "",
    ) -> Shows:
        """Record what is complete; else ask for the next thing."""
        sight = self.sight
        if self.came.troubles:
            return Shows(errors=self.came.troubles)
        objection = self.place.objection(sight) if slot is not None and mode == "asks" and not passed else ""
        if objection and slot is not None:
            self._drop(slot)
            return Shows(objection) if isinstance(objection, Verdict) else Shows(said=str(objection))
        commands = self.place.commands(sight)
        if commands is None:
            return self._incomplete(slot)
        before = dict(sight.held)
        answers = self._record(commands, passed=passed, mode=mode, person=person, helper=helper)
        if isinstance(answers, Shows):
            return answers
        judged = self._judged(before, slot)
        shown = verdict(
            answers, roles=self._roles(person), judged=judged, passed=passed, error=error,
            label_url=self._labels(answers),
        )  # fmt: skip
        shown = replace(shown, paper_url=self.place.paper(answers))
        if any(answer.outcome == "refused" for answer in answers):
            self._refused(slot, answers)
            self._wait(shown, posted.part(self.came.scan_id, len(answers) - 1), judged, passed)
        else:
            keeps = (*self.place.keeps, people.HELPER, LATE)
            after = self.place.after
            kept = after(sight, answers) if after else {}
            sight.held = {n: sight.held[n] for n in keeps if n in sight.held} | kept
            sight.do = ""
        self._see_anew(commands)
        return Shows(shown)

    def _see_anew(self, commands: Sequence[Command]) -> None:
        """What was just recorded changed what the codes stand for, and perhaps the plant's own data."""
        if any(isinstance(command, Define) for command in commands):
            self.sight.plant = lookup.plant_now()
        see(self.place, self.sight)

    def _labels(self, answers: Sequence[Answer]) -> str:
        """The link to what was given a label now, or to the label that is printed again."""
        if self.place.labels != "again":
            return labels_url([c for a in answers for c in a.made.get("codes", [])], self.place.labels)
        found = self.sight.one("label")
        if found is None or any(a.outcome == "refused" for a in answers):
            return ""
        code = lookup.label_of(found.thing) if found.thing is not None else found.code
        return labels_url([code], self.sight.text("layout") or "a4")

    def _refused(self, slot: Slot | None, answers: Sequence[Answer]) -> None:
        """Free the slot for the next scan; what was typed stays. What needs a second person waits for their badge."""
        if any(answer.code in NEEDS_A_SECOND for answer in answers):
            self.sight.held[people.WANTS_HELPER] = "yes"
            self.sight.held.pop(people.HELPER, None)
        elif slot is not None and answers[-1].code not in ABOUT_FIGURES:
            self._drop(slot)

    def _drop(self, slot: Slot) -> None:
        held = self.sight.held
        if slot.many:
            held[slot.name] = MANY.join(c for c in self.sight.codes(slot.name) if c != self.sight.typed)
        else:
            held.pop(slot.name, None)

    def _incomplete(self, slot: Slot | None) -> Shows:
        """Something is missing. A code that found its slot needs no words; a bare press does."""
        wanted = open_slot(self.place, self.sight)
        if slot is not None or self.sight.text(self.came.asked) or self.came.asked in without(self.sight):
            return Shows()
        if wanted is not None:
            return Shows(said=_("Nothing was recorded. %(ask)s.") % {"ask": wanted.ask})
        missing = wanting(self.place, self.sight, self.place.fields(self.sight))
        if missing is None and self.place.actions(self.sight):
            return Shows(said=_("Nothing was recorded: press the button of what was done."))
        errors = {missing.name: not_given()} if missing else None
        return Shows(said=_("Nothing was recorded: something is missing."), errors=errors)

    def _roles(self, person: str) -> frozenset[str]:
        one = people.here(self.request, person or self.sight.person)
        return one.roles if one else frozenset()

    def _record(
        self,
        commands: Sequence[Command],
        *,
        passed: dict[str, str],
        mode: str = "asks",
        person: str = "",
        helper: str = "",
        ahead: tuple[str, ...] = (),
    ) -> list[Answer] | Shows:
        """Record the commands of one scan in order, each under an id that follows from the scan's; the first
        refusal ends it."""
        sight, answers = self.sight, list[Answer]()
        if sight.text(LET):
            let, allows = passed_by(self.request, sight)
            passed = let | passed
            if let and not person and allows != sight.person:
                person, helper = allows, sight.person
        if sight.text(TOLD) and not ahead:
            mode = "tells"
        happened = None
        if sight.text(LATE):
            happened = posted.moment_of(sight.text(HAPPENED))
            if happened is None:
                when = _("When was it done? Write it like 2026-04-30 14:05 (year-month-day hour:minute).")
                return Shows(said=_("Nothing was recorded."), errors={HAPPENED: when})
        offset = timezone.localtime(happened or sight.now).utcoffset()
        for n, command in enumerate(commands):
            by = By(
                person=person or sight.person,
                station=self.place.slug,
                device=device_of(self.request).id,
                scan_id=posted.part(self.came.scan_id, n),
                mode=mode,
                happened=happened,
                unsure_ms=PAPER_MS if happened else 0,
                offset_min=int(offset.total_seconds() // 60) if offset is not None else 0,
                overrides=passed,
                helper=helper or people.helper_of(self.request, sight.text(people.HELPER)),
                ahead=ahead,
            )
            try:
                answers.append(record(command, by, sight.known))
            except SentBefore:
                return Shows(
                    plain_refusal(
                        _("This form was sent before with something else in it."),
                        _("One form records one scan; the first answer stands and this one was not recorded."),
                        _("Look at what is shown now and scan again."),
                    )
                )
            if answers[-1].outcome == "refused":
                break
            settle(getattr(command, "photo", ""))
        return answers
