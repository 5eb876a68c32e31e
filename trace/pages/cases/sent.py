"""What the forms of complaints and cases send, as the commands that are recorded of it."""

from collections.abc import Callable, Iterable, Sequence
from datetime import date

from django.http import QueryDict
from django.utils.translation import gettext as _

from trace.genealogy.as_typed import understood
from trace.genealogy.asked_again import digest_of
from trace.genealogy.causes import CauseError, written
from trace.genealogy.sharing import Shared
from trace.recording.acts.cases import (
    CloseCase,
    Decide,
    GroupComplaints,
    HoldForCase,
    KeepScope,
    OpenCase,
    RecordTest,
    ReopenCase,
    Suspect,
    TellConsignee,
)
from trace.recording.acts.complaints import FORMS, CloseComplaint, TakeComplaint, TieHull
from trace.recording.acts.erasing import Erase
from trace.recording.commands import Command


def _text(post: QueryDict, name: str) -> str:
    return str(post.get(name, "")).strip()


def taken(post: QueryDict, hull: str, photos: Sequence[str], today: date) -> TakeComplaint:
    """A complaint as it was typed. What cannot be read as a day or a figure is kept with the words, never lost."""
    names = {
        "sold": _("sold"), "failed": _("failed"), "reported": _("told"), "hours": _("hours of use"),
        "months": _("months of use"), "month": _("month made"),
    }  # fmt: skip
    plain: dict[str, str] = {}
    story = [_text(post, "story")]
    for name, said in names.items():
        text = _text(post, name)
        value = FORMS[name](text.replace(",", ".") if name in ("hours", "months") else text)
        if name in ("sold", "failed", "reported") and value > today.isoformat():
            value = ""
        plain[name] = value
        if text and not value:
            story.append(f"{said}: {text}")
    return TakeComplaint(
        hull=hull, photos=tuple(photos), story="\n".join(part for part in story if part), **plain,
        **{
            name: _text(post, name)
            for name in ("symptom", "spot", "product", "colour", "plate", "through", "buyer", "contact")
        },
    )  # fmt: skip


def tied(number: int, post: QueryDict) -> TieHull:
    return TieHull(complaint=number, hull=_text(post, "hull"), reason=_text(post, "reason"))


def complaint_closed(number: int, post: QueryDict) -> CloseComplaint:
    return CloseComplaint(
        complaint=number, cause=_text(post, "cause"), hull=_text(post, "hull_found"), reason=_text(post, "reason")
    )


def erased(notes: Iterable[str], post: QueryDict) -> Erase:
    return Erase(notes=tuple(sorted(set(notes))), reason=_text(post, "reason"))


def opened(post: QueryDict) -> OpenCase:
    return OpenCase(name=_text(post, "name"), complaints=numbers(post.getlist("complaint")))


def grouped(into: int, complaint: int) -> GroupComplaints:
    return GroupComplaints(case=into, complaints=(complaint,))


def numbers(texts: Iterable[str]) -> tuple[int, ...]:
    """The numbers among these texts, each once."""
    return tuple(dict.fromkeys(int(text) for text in texts if text.isascii() and text.isdigit() and len(text) < 10))


def cause_words(text: str) -> tuple[str, ...]:
    """A cause as it is typed: `holds=N-0417 and made=2026-04-01..2026-05-15`. One that cannot be read stays as it is,
    and the record says why it is none."""
    words = text.replace("(", " ( ").replace(")", " ) ").split()
    try:
        return tuple(written(understood(words)))
    except CauseError:
        return tuple(words)


def scoped(number: int, cause: Sequence[str], answer: Shared) -> KeepScope:
    """The scope of a cause as it was answered."""
    return KeepScope(
        case=number, cause=tuple(cause), known=answer.as_known_on.isoformat(), certain=answer.count("certain"),
        may=answer.count("may"), cannot=answer.count("cannot"), tree_size=answer.tree_size, digest=digest_of(answer),
    )  # fmt: skip


def held(number: int, hold: str, cause: Sequence[str] = ()) -> HoldForCase:
    return HoldForCase(case=number, hold=hold, cause=tuple(cause))


# What is done in a case by one press -> the command.
STEPS: dict[str, Callable[[int, QueryDict], Command]] = {
    "group": lambda n, post: GroupComplaints(case=n, complaints=numbers(post.getlist("complaint"))),
    "ungroup": lambda n, post: GroupComplaints(
        case=n, complaints=numbers(post.getlist("complaint")), out=True, reason=_text(post, "reason")
    ),
    "suspect": lambda n, post: Suspect(
        case=n, cause=cause_words(_text(post, "cause")), stands=_text(post, "stands") or "suspected",
        reason=_text(post, "reason"),
    ),
    "link": lambda n, post: held(n, _text(post, "hold")),
    "test": lambda n, post: RecordTest(
        case=n, day=_text(post, "day"), what=_text(post, "what"), result=_text(post, "result"),
        by_whom=_text(post, "by_whom"),
    ),
    "decide": lambda n, post: Decide(case=n, reason=_text(post, "reason")),
    "tell": lambda n, post: TellConsignee(
        case=n, consignee=_text(post, "consignee"), day=_text(post, "day"), way=_text(post, "way"),
        answer=_text(post, "answer"),
    ),
    "close": lambda n, post: CloseCase(
        case=n, cause=_text(post, "closing_cause"), hulls=_text(post, "hulls"), reason=_text(post, "reason")
    ),
    "reopen": lambda n, post: ReopenCase(case=n, reason=_text(post, "reason")),
}  # fmt: skip
