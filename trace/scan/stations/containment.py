"""The containment walk: the rack once, then each hull in it; the page says which of the list are not found yet."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import printed
from trace.genealogy.cause_said import said_of
from trace.genealogy.causes import read_cause
from trace.genealogy.containment import RESULTS, Begun, Looked, Progress, progress, walks
from trace.recording.acts.containment import RESULT_WORDS, SeeHull
from trace.recording.commands import Command
from trace.recording.floor import hold_list
from trace.recording.floor import words as say
from trace.scan.page import Field, Row, Verdict
from trace.scan.sight import EVERYTHING, RECORDS, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HEAVY, choice
from trace.scan.verdict import plain_refusal
from trace.speech import names_of, spoken

MOST_ROWS = 40


def open_walks(sight: Sight) -> list[Begun]:
    """The walks that are not ended, the newest first."""
    if "walks" not in sight.looked:
        sight.looked["walks"] = [walk for walk in walks() if walk.ended is None]
    found: list[Begun] = sight.looked["walks"]
    return found


def walk(sight: Sight) -> Begun | None:
    """The walk that was chosen; the one that is open, where there is no other."""
    found = open_walks(sight)
    named = sight.text("walk")
    if not named:
        return found[0] if len(found) == 1 else None
    return next((one for one in found if one.uid == named), None)


def chosen(sight: Sight) -> str:
    """The uid of the walk that is meant; one that is over, or that nobody began, is for the rules to refuse."""
    one = walk(sight)
    return one.uid if one else sight.text("walk")


def slots(sight: Sight) -> tuple[Slot, ...]:
    if not (open_walks(sight) or sight.text("walk")):
        return ()
    place = Slot("place", ("place",), _("Scan the rack or place where you stand"), clears=("hull",))
    if not chosen(sight):
        return (place,)
    return (place, Slot("hull", ("hull", "plate", "pack"), _("Scan each hull that stands here, or its pack's label")))


def over(one: Begun, number: int) -> str:
    """What a walk is over, in words."""
    held = next((held for held in hold_list.in_force(number) if held.key == one.hold), None)
    if one.hold:
        return _("hold on %(name)s") % {"name": held.name} if held else _("hold")
    try:
        return _("hulls that %(cause)s") % {"cause": said_of(read_cause(one.question))}
    except ValueError:
        return " ".join(one.question)


def name_of(one: Begun, number: int) -> str:
    """A walk as it is told from others: what it is over, by whom and when it was begun."""
    of = over(one, number)
    return _("%(of)s, %(who)s, %(when)s") % {
        "of": of, "who": say.person(one.person), "when": say.clock(one.begun),
    }  # fmt: skip


def fields(sight: Sight) -> tuple[Field, ...]:
    found = open_walks(sight)
    if not found:
        return ()
    names = spoken([name_of(one, sight.number) for one in found])
    pairs = [(one.uid, name) for one, name in zip(found, names, strict=True)]
    results = [(result, _(RESULT_WORDS[result]).capitalize()) for result in RESULTS]
    return (
        choice("walk", _("Walk"), pairs, value=chosen(sight), ask=_("Which walk is it?")),
        choice("result", _("What you do with it"), results, value=sight.text("result") or RESULTS[0]),
        Field("remark", _("Remark")),
    )


def commands(sight: Sight) -> Sequence[Command] | None:
    if not (chosen(sight) and sight.text("place") and sight.text("hull")):
        return None
    return [
        SeeHull(
            walk=chosen(sight), place=sight.text("place"), hull=sight.text("hull"),
            result=sight.text("result") or RESULTS[0], remark=sight.text("remark"),
        )
    ]  # fmt: skip


def far(sight: Sight) -> Progress | None:
    """How far the walk is."""
    one = walk(sight)
    if one is None:
        return None
    if "progress" not in sight.looked:
        sight.looked["progress"] = progress(one)
    found: Progress = sight.looked["progress"]
    return found


def rows(sight: Sight) -> tuple[Row, ...]:
    """How many are found, then those that should stand here, then those that nobody has found, by place."""
    found = far(sight)
    if found is None:
        return ()
    here = sight.key("place")
    at = [one for one in found.here if _place(one) == here]
    missing = [one for one in found.here if one.seen is None and _place(one) != here]
    shown = [*at, *missing][:MOST_ROWS]
    people = names_of({one.seen.person for one in shown if one.seen} | {one.last.person for one in shown if one.last})
    left = len(at) + len(missing) - len(shown)
    more = (Row(_("And more"), _("%(n)d further hulls stand on the walk's page") % {"n": left}, note=True),)
    return (Row(_("Found"), tally(found), note=True), *(_row(one, people) for one in shown), *(more if left else ()))


def tally(found: Progress) -> str:
    """“12 of 35; not found 23”."""
    every, missing = len(found.here), found.count("")
    return _("%(found)d of %(all)d in the plant; not found %(missing)d; gone %(gone)d") % {
        "found": every - missing, "all": every, "missing": missing, "gone": len(found.gone),
    }  # fmt: skip


def _place(one: Looked) -> str:
    return one.seen.place if one.seen else one.last.place if one.last else ""


def _row(one: Looked, people: dict[str, str]) -> Row:
    if one.seen:
        return Row(
            one.node.said, _("%(result)s, %(place)s")
            % {"result": _(RESULT_WORDS[one.seen.result]), "place": one.seen.place},
            True, people.get(one.seen.person, ""), one.seen.happened,
        )  # fmt: skip
    if one.last is None:
        return Row(one.node.said, _("place not recorded"))
    # Who put it there last is asked first when it is not there.
    return Row(
        one.node.said, _("%(place)s, put there by %(who)s, %(when)s")
        % {"place": one.last.place, "who": people.get(one.last.person, ""), "when": say.clock(one.last.happened)},
    )  # fmt: skip


def asked_next(sight: Sight) -> Next | None:
    if not (open_walks(sight) or sight.text("walk")):
        return Next(_("Nothing is looked for now"), _("Quality begins a walk at a hold or at a list of hulls."))
    if sight.text("place") and chosen(sight):
        result = _(RESULT_WORDS.get(sight.text("result") or RESULTS[0], ""))
        detail = _("Each counts as: %(result)s. It stays on hold until quality ends its hold.") % {"result": result}
        return Next(_("Scan each hull that stands here, or its pack's label"), detail, "scan")
    return None


def objection(sight: Sight) -> str | Verdict:
    """A hull counts in the place where it was seen: without one it is not kept for the next place that is scanned."""
    if not sight.text("hull") or sight.text("place"):
        return ""
    what = _("%(hull)s does not count yet: no place is scanned.") % {"hull": printed(sight.text("hull"))}
    return plain_refusal(what, "", _("Scan the rack or place where it stands, then the hull again."))


CONTAINMENT = Station(
    slug="containment",
    title=gettext_lazy("Containment walk"),
    home=Home(RECORDS, 15, gettext_lazy("Find every hull of a hold or a list, place by place")),
    roles=("operator", "stores", "warehouse", "lead", "quality", "deputy"),
    slots=slots,
    fields=fields,
    commands=commands,
    rows=rows,
    next=asked_next,
    place=lambda sight: sight.key("place"),
    keeps=("walk", "place", "result"),
    leads="place",
    objection=objection,
    caution=HEAVY,
    half_done=False,
    stops=EVERYTHING,
)
