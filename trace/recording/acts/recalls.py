"""Recalls: a notice goes to everybody who was sent a hull of the list, and what they answer is recorded.

Texts of a notice, contacts and remarks are names and free words: only their digests stand in the event.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes.recall_notice import FIELDS, NoticeFault, notice_faults
from trace.genealogy.containment import listed, under_hold
from trace.genealogy.recall import OUTCOMES, RECALLED, REPLIED, Recall, answered, gone_by_consignee, recalls, replies
from trace.genealogy.walk import nodes
from trace.readmodels.rows import Rows
from trace.recording.acts.containment import MOST_LISTED, hulls_known
from trace.recording.commands import Command, Facts, Told, handles, words
from trace.recording.floor.sources import open_hold
from trace.recording.floor.standing import Floor

FIELD_WORDS = {
    "headline": noop("The headline"), "product": noop("The product's name"), "brand": noop("The brand"),
    "picture": noop("The picture"), "numbers": noop("The numbers of the hulls"),
    "on_product": noop("Where the number stands on the product"), "sold": noop("Where and when it was sold"),
    "hazard": noop("The hazard"), "action": noop("What to do"), "remedy": noop("The remedies"),
    "contact": noop("Whom to ask"), "share": noop("The request to tell others"),
    "only_one": noop("Why there is one remedy only"), "language": noop("The language"),
}  # fmt: skip


def fault_said(fault: NoticeFault) -> str:
    """One fault of a notice in a plain sentence."""
    sentences = {
        "missing": _("%(field)s is missing."),
        "headline": _("The headline must read “Product safety recall” and nothing else."),
        "plays down": _("%(field)s plays the risk down: “%(words)s” may not stand in a recall notice."),
        "stop use": _("What to do does not tell people to stop using the product."),
        "at once": _("What to do does not say that use must stop at once."),
        "remedies": _("Offer at least two of repair, replacement and refund, or say why there is one only."),
        "which remedy": _("“%(words)s” is no remedy: there are repair, replacement and refund."),
    }
    return sentences[fault.what] % {"field": _(FIELD_WORDS[fault.field]), "words": fault.words}


@dataclass(frozen=True, kw_only=True)
class BeginRecall(Command):
    """hold, or question, known_on, hulls and may: what is recalled, as of BeginContainment. The texts are the fields of
    a notice (trace/codes/recall_notice.py); remedies: those offered; checked: codes of what was looked through
    (CHECKLIST); discovered: the day on which the defect was found."""

    KIND = "recall_begun"
    NAME = noop("begin a recall")
    DECISION = True

    hold: str = ""
    question: tuple[str, ...] = ()
    known_on: str = ""
    hulls: tuple[str, ...] = ()
    may: tuple[str, ...] = ()
    discovered: str = ""
    remedies: tuple[str, ...] = ()
    checked: tuple[str, ...] = ()
    headline: str = words()
    product: str = words()
    brand: str = words()
    picture: str = words()
    numbers: str = words()
    on_product: str = words()
    sold: str = words()
    hazard: str = words()
    action: str = words()
    remedy: str = words()
    contact: str = words()
    share: str = words()
    only_one: str = words()
    language: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Recall begun, %(n)d hulls on its list") % {"n": len(e.part("touches"))}


def notice_of(c: BeginRecall) -> dict[str, str]:
    """The texts of a notice by field."""
    return {name: str(getattr(c, name)) for name in FIELDS}


def faults_of(c: BeginRecall) -> list[str]:
    """All that is wrong with what would be sent, each in one sentence."""
    found = [fault_said(fault) for fault in notice_faults(notice_of(c), c.remedies)]
    if _day(c.discovered) is None:
        found.append(_("Say on which day the defect was found, as 2026-06-09."))
    return found


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def begin_recall_facts(c: BeginRecall, floor: Floor) -> Facts:
    every = {*c.hulls, *c.may}
    known_hold = open_hold(c.hold) is not None if c.hold else True
    faults = faults_of(c)
    found = _day(c.discovered)
    if found and found > floor.day:
        faults.append(_("The defect cannot have been found on a day that has not come."))
    return {
        "recall": {
            "no_hold": not known_hold,
            "nothing": known_hold and not _listed_now(c),
            "strange": not c.hold and len(hulls_known(every)) < len(every),
            "too_many": len(every) > MOST_LISTED,
            "most": MOST_LISTED,
            "faulty": bool(faults),
            "faults": " ".join(faults),
        }
    }


def _listed_now(c: BeginRecall) -> list[str]:
    """The uids of all that the recall is of; a hold's as it reaches now, and no further: a notice names plates."""
    if not c.hold:
        return [*c.hulls, *c.may]
    ids = [unit for unit, kind in under_hold(c.hold).items() if kind == "hull"]
    return [node.uid for node in nodes(ids).values()]


@handles(BeginRecall, begin_recall_facts)
def begin_recall(c: BeginRecall, floor: Floor, rows: Rows) -> str:
    count = rows.touch_each(_listed_now(c), RECALLED)
    return f"recall begun, {count} hulls on its list"


@dataclass(frozen=True, kw_only=True)
class ReplyToRecall(Command):
    """A consignee's reply sheet. results: plate -> outcome; counts: outcome -> how many of the hulls that no sheet
    names; day: when it was answered; contact: who answered."""

    KIND = "recall_replied"
    NAME = noop("reply to a recall")

    recall: str
    consignee: str
    results: dict[str, str] = field(default_factory=dict)
    counts: dict[str, str] = field(default_factory=dict)
    day: str = ""
    contact: str = words()
    remark: str = words()

    @staticmethod
    def told(e: Told) -> str:
        said = [f"{plate}: {outcome}" for plate, outcome in sorted(e.says["results"].items())]
        said += [f"{n} {outcome}" for outcome, n in sorted(e.says["counts"].items())]
        return _("Reply of %(who)s to a recall: %(said)s") % {
            "who": e.name_of("consignee", str(e.says["consignee"])), "said": "; ".join(said),
        }  # fmt: skip


def recall_of(uid: str) -> Recall | None:
    """The recall of this uid, None where none was begun."""
    return next(iter(recalls(uid=uid)), None) if uid else None


def _numbers(counts: Mapping[str, str]) -> dict[str, int] | None:
    """The counts as numbers, None where one is none."""
    if not all(n.isascii() and n.isdecimal() and len(n) <= 6 for n in counts.values()):
        return None
    return {outcome: int(n) for outcome, n in counts.items()}


def _trouble(c: ReplyToRecall, floor: Floor) -> str:
    if strange := [word for word in (*c.results.values(), *c.counts) if word not in OUTCOMES]:
        return f"“{strange[0][:20]}” is no answer: say found, corrected, destroyed or not found."
    if _numbers(c.counts) is None:
        return "How many hulls that are is a whole number."
    if c.day and _day(c.day) is None:
        return "The day of the reply is written as 2026-06-09."
    return "The reply is dated ahead." if c.day and (_day(c.day) or floor.day) > floor.day else ""


def reply_facts(c: ReplyToRecall, floor: Floor) -> Facts:
    recall = recall_of(c.recall)
    trouble = _trouble(c, floor)
    plates = gone_by_consignee(listed(recall.uid, role=RECALLED)).get(c.consignee, []) if recall else []
    return {
        "typed": {"trouble": trouble},
        "recall": {
            "unknown": recall is None,
            "consignee": c.consignee,
            "not_theirs": ", ".join(plate for plate in c.results if plate not in plates),
            "nobody": recall is not None and not plates,
            "silent": not c.results and not c.counts,
            **(_count_facts(c, recall, plates) if recall and not trouble else {"over": False}),
        },
    }


def _count_facts(c: ReplyToRecall, recall: Recall, plates: list[str]) -> Facts:
    """Whether the consignee would answer of more hulls than went there, once this sheet counts too."""
    before = [reply for reply in replies(recall) if reply.consignee == c.consignee]
    named = {**answered(plates, before).named, **c.results}
    counts = _numbers(c.counts) or next((reply.counts for reply in reversed(before) if reply.counts), {})
    return {
        "over": len(named) + sum(counts.values()) > len(plates),
        "sent": len(plates),
        "said": len(named) + sum(counts.values()),
    }


@handles(ReplyToRecall, reply_facts)
def reply(c: ReplyToRecall, floor: Floor, rows: Rows) -> str:
    recall = recall_of(c.recall)
    assert recall is not None  # noqa: S101 - RECALL-UNKNOWN is basic
    for node in nodes(listed(recall.uid, role=RECALLED)).values():
        if node.code in c.results:
            rows.touch(node.uid, REPLIED)
    rows.resource("consignee", c.consignee, "consignee")
    count = len(c.results) + sum((_numbers(c.counts) or {}).values())
    return f"reply of {c.consignee}, {count} hulls"
