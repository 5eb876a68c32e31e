"""One POST on its way through: a code finds its slot, what is complete is recorded, what is refused is said."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.access import role_words
from plant.sign_on import current, device_of
from trace import lookup
from trace.codes import printed
from trace.codes import shown as printable
from trace.recording.acts.strange_code import Shown
from trace.recording.answers import Answer
from trace.recording.commands import By, Command
from trace.recording.floor import words as say
from trace.recording.floor.standing import Found
from trace.recording.record import SameIdOtherContentError, record
from trace.recording.rules.table import BY_CODE
from trace.scan import people, posted
from trace.scan.evidence import settle
from trace.scan.label_links import labels_url
from trace.scan.page import Verdict
from trace.scan.posted import Posted
from trace.scan.sight import MANY, Sight, Slot, Station, open_slot, put, slot_for
from trace.scan.stations.parts import LOOK, OFF
from trace.scan.verdict import plain_refusal, verdict

LATE, HAPPENED = "late", "happened"
REFUSED = "refused_scan"  # what was refused and may be overridden: it stands there until somebody has, or scans on
# Refusals of what was typed: the codes scanned for it are right and stay.
NEEDS_A_SECOND = ("UNTRAINED", "OPENING-ALONE")
ABOUT_FIGURES = ("AMOUNT-UNREADABLE", "CHARGE-HEAVY", "CHARGE-LIGHT", "CHECK-WEIGHT-AGAIN")
PAPER_MS = 60_000  # a time written on paper is good to the minute


@dataclass
class Shows:
    """What the page says beside the state of the station."""

    verdict: Verdict | None = None
    said: str = ""
    refused_text: str = ""
    errors: dict[str, str] | None = None


def person_here(request: HttpRequest) -> str:
    now = current(request)
    return now.person if now else ""


def see(place: Station, sight: Sight, *more: str) -> None:
    """Look up every code that is held, and those given beside; two statements."""
    sight.looked.clear()
    kinds = [kind for slot in place.slots(sight) for kind in slot.kinds]
    texts = [code for slot in place.slots(sight) for code in sight.held.get(slot.name, "").split(MANY)]
    sight.found = lookup.look([*texts, *more], sight.plant, kinds)
    # A station may have other slots once it sees what is held: an open mould takes boxes and tubs.
    others = [c for slot in place.slots(sight) for c in sight.held.get(slot.name, "").split(MANY)]
    if set(others) - set(texts) - {""}:
        sight.found |= lookup.look(set(others) - set(texts), sight.plant, kinds)


def _taken(slot: Slot, found: Found, before: tuple[str, ...], now: tuple[str, ...]) -> str:
    """What a code filled, where the page goes on asking for the same: what it is, and how many there are."""
    taken = ", ".join(part for part in (found.key or found.name, _what(found)) if part)
    if not slot.many:
        return _("Scanned: %(taken)s.") % {"taken": taken}
    said = _("Scanned before: %(taken)s.") if found.code in before else _("Added: %(taken)s.")
    return f"{said % {'taken': taken}} {_('%(n)d so far.') % {'n': len(now)}}"


def _what(found: Found) -> str:
    """The hulls in a pack, what is in a container; nothing where the code says it all."""
    unit = found.unit
    if unit is None or found.serial:
        return ""
    hulls = [str(inner["serial"]) for inner in unit.inside if inner["serial"]]
    if hulls:
        return ", ".join(hulls)
    return say.lot_name(unit.about, unit.lot_no) if found.carrier and unit.about.get("material") else ""


def still_refused(request: HttpRequest, sight: Sight) -> Verdict | None:
    """The refusal that the form carries, as whoever works here now may let it pass; it is read, not judged again."""
    try:
        kept = json.loads(sight.held.get(REFUSED, ""))
        scan, judged, passed = kept["scan"], dict(kept["judged"]), dict(kept["passed"])
        answer = lookup.answer_to(device_of(request).id, UUID(scan))
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    if answer is None or answer.outcome != "refused":
        return None
    one = people.here(request, person_here(request))
    shown = verdict([answer], roles=one.roles if one else frozenset(), judged=judged, passed=passed)
    return replace(shown, replayed=False)


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
        see(self.place, sight, came.code, came.badge)
        if came.trouble:
            return Shows(plain_refusal(_("The photo was not read."), came.trouble, ""))
        if came.overrides or came.fact:
            return self._again()
        if came.do.startswith(OFF):
            return self._take_out(came.do.removeprefix(OFF))
        if came.do == LOOK:
            return self._early(None) or Shows()
        return self._scanned() if came.code else self._act(None, passed={})

    def _scanned(self) -> Shows | str:
        """A code came: a person's badge, a thing of this station, or something else."""
        sight, found = self.sight, self.sight.found[self.came.code]
        if found.thing is not None and found.thing.kind == "person" and not found.dead:
            return self._badge(found)
        slot = slot_for(self.place, sight, found) if found.kinds and not found.dead else None
        if slot is None:
            said = self.place.reads(sight, self.came.code) if not found.kinds and not found.trouble else ""
            return Shows(said=said) if said else self._no_place(found)
        sight.typed = found.code
        before = sight.codes(slot.name)
        put(slot, sight, found.code)
        sight.found[found.code] = found
        shows = self._early(slot) or self._act(slot, passed={})
        # What the page asks for next tells of any other slot that it is filled.
        if shows == Shows() and (slot.many or slot.optional):
            shows.said = _taken(slot, found, before, sight.codes(slot.name))
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
        done = people.shown(self.request, found.thing, self.place.slug, self.sight.held)
        if done.sign_in:
            return done.sign_in
        self.sight.person = person_here(self.request)
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
        return Shows(verdict(answers), refused_text=printable(self.came.code, 200))

    def _early(self, slot: Slot | None) -> Shows | None:
        """A refusal that can be given before the act is whole; None when the act may go on. The code that is in the
        way leaves its slot: the one just scanned, or the one that the station says the rule is about."""
        early = self.place.early(self.sight)
        if early is None:
            return None
        command, rules = early
        answers = self._record([command], passed={}, ahead=rules)
        if isinstance(answers, Shows):
            return answers
        if answers[0].outcome != "refused":
            return None
        blamed = self.place.blames.get(answers[0].code)
        slot = next((one for one in self.place.slots(self.sight) if one.name == blamed), slot)
        if slot is not None:
            self._drop(slot)
        return Shows(verdict(answers))

    # The act itself.

    def _again(self) -> Shows:
        """The same once more, as a fact or with an override; the form holds what was judged."""
        came = self.came
        self.sight.typed = came.typed
        slot = next((one for one in self.place.slots(self.sight) if one.name == came.slot), None)
        if came.fact:
            return self._act(slot, passed=came.passed, mode="tells")
        may = self._may_override()
        if isinstance(may, str) or not came.reason:
            error = may if isinstance(may, str) else _("The reason is missing: choose one and write a few words.")
            return self._act(slot, passed=came.passed, error=error)
        person, helper = may
        # One badge that was not enough is no reason to refuse the next one.
        self.came = replace(came, scan_id=posted.after(came.scan_id, f"override {came.rule} {person}"))
        passed = came.passed | {came.rule: came.reason}
        return self._act(slot, passed=passed, person=person, helper=helper)

    def _may_override(self) -> tuple[str, str] | str:
        """(who overrides, who stands beside), or the sentence why nobody does."""
        badge = self.came.badge
        if not badge:
            return self.sight.person, ""
        found = self.sight.found.get(badge)
        if found is None or found.thing is None or found.thing.kind != "person" or found.dead:
            return _("This is no badge: scan the badge of the one who allows it.")
        one = people.here(self.request, found.thing.key)
        if one is None:
            return _(
                "That person is not signed on here: scan the badge under “Scan or type a code” and type the PIN."
                " This refusal waits meanwhile."
            )
        rule = BY_CODE.get(self.came.rule)
        if rule is not None and not one.roles & set(rule.override):
            who = _(" or ").join(role_words(role) for role in rule.override)
            return _("%(name)s may not allow this: scan the badge of the %(who)s.") % {"name": one.name, "who": who}
        return found.thing.key, self.sight.person

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
        objection = str(self.place.objection(sight)) if slot is not None and mode == "asks" and not passed else ""
        if objection and slot is not None:
            self._drop(slot)
            return Shows(said=objection)
        commands = self.place.commands(sight)
        if commands is None:
            return self._incomplete(slot)
        before = dict(sight.held)
        answers = self._record(commands, passed=passed, mode=mode, person=person, helper=helper)
        if isinstance(answers, Shows):
            return answers
        judged = before | {
            "scan_id": str(self.came.scan_id), "do": sight.do, "slot": slot.name if slot else "",
            "typed": sight.typed,
        }  # fmt: skip
        shown = verdict(
            answers, roles=self._roles(person), judged=judged, passed=passed, error=error,
            label_url=self._labels(answers),
        )  # fmt: skip
        if any(answer.outcome == "refused" for answer in answers):
            self._refused(slot, answers)
            if shown.override:
                last = posted.part(self.came.scan_id, len(answers) - 1)
                sight.held[REFUSED] = json.dumps({"scan": str(last), "judged": judged, "passed": passed})
        else:
            keeps = (*self.place.keeps, people.HELPER, LATE)
            after = self.place.after
            kept = after(sight, answers) if after else {}
            sight.held = {n: sight.held[n] for n in keeps if n in sight.held} | kept
            sight.do = ""
        # What was just recorded changed what the codes stand for, and perhaps the plant's own data.
        sight.plant = lookup.plant_now()
        see(self.place, sight)
        return Shows(shown)

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
        if slot is not None:
            return Shows()
        if wanted is not None:
            return Shows(said=_("Nothing was recorded. %(ask)s.") % {"ask": wanted.ask})
        missing = {
            f.name: _("This is missing: fill it in, then send again.")
            for f in self.place.fields(self.sight)
            if f.required and not self.sight.text(f.name)
        }
        if not missing and self.place.actions(self.sight):
            return Shows(said=_("Nothing was recorded: press the button of what was done."))
        return Shows(said=_("Nothing was recorded: something is missing."), errors=missing)

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
                answers.append(record(command, by))
            except SameIdOtherContentError:
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
