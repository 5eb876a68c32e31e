"""Papers: what was taken away or can be, how far one is that was asked for, and the file itself."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotAllowed, NotThere, NotUnderstood
from plant.sign_on import SignedOn, current
from trace.codes import uuid7
from trace.exports import keeping
from trace.exports.asked import PaperError, Reader
from trace.exports.forms import BY_FORM, forms_of
from trace.exports.kinds.table import BY_NAME
from trace.exports.pdf.sheet import in_fours
from trace.exports.seen import kinds_for, papers_for
from trace.exports.taking import take
from trace.genealogy.day import DayError, moment
from trace.models import KeptPaper
from trace.pages.asked import form_number
from trace.pages.paging import Pages, pages
from trace.sheets.contracts import grouped
from trace.speech import names_of, speak

SIZES = ((1_000_000, "MB"), (1_000, "kB"))


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One paper: contract of the pages' templates. `state`: ready, under way, waiting or not made."""

    number: str
    what: str
    question: str
    form: str
    as_known_on: datetime
    by: str
    asked: datetime
    size: str
    digest: str
    fingerprint: str
    state: str
    state_words: str
    url: str
    error: str = ""
    done: int = 0
    total: int = 0


@dataclass(frozen=True, slots=True)
class PaperForm:
    """A form on a hull's, a lot's or a scope's page that asks for its paper: contract of parts/paper_form.html. `says`:
    the words on its button."""

    url: str
    kind: str
    words: tuple[tuple[str, str], ...]
    as_known_on: str
    forms: tuple[tuple[str, str], ...]
    says: str


def paper_form(
    request: HttpRequest, kind: str, words: Mapping[str, str], asked: datetime | None, says: str = ""
) -> PaperForm | None:
    """The form for this question; None for those who may take no such paper."""
    person = current(request)
    if person is None or not allowed(person.roles, "papers", "POST", {}, person.tasks):
        return None
    if not allowed(person.roles, BY_NAME[kind].page, "GET", {}, person.tasks):
        return None
    when = asked.isoformat() if asked else ""
    forms = tuple((form.name, str(form.title)) for form in forms_of(BY_NAME[kind]))
    return PaperForm(reverse("papers"), kind, tuple(words.items()), when, forms, says or _("Make the paper"))


def papers(request: HttpRequest) -> HttpResponse:
    """Context: papers (PaperLine), pages. A POST asks for one: kind, form, as_known_on, the words of its question."""
    person = _person(request)
    if request.method == "POST":
        return HttpResponseRedirect(reverse("paper", args=[_asked(request, person).id]))
    found = papers_for(person.roles, person.tasks)
    shown: Pages = pages(request, found.count())
    kept = list(found[shown.skipped : shown.skipped + shown.each])
    return render(request, "pages/papers.html", {"papers": _lines(kept), "pages": shown})


def paper(request: HttpRequest, number: int) -> HttpResponseBase:
    """Context: paper (PaperLine), scan_id, paper_form. While it is being made the page asks again by itself.

    A POST takes the file; it is recorded first who took it.
    """
    person = _person(request)
    kept = _kept(number, person)
    if request.method == "POST":
        return _file(request, kept, person)
    line = _lines([kept])[0]
    again = paper_form(request, kept.kind, kept.words, kept.as_known_on)
    response = render(request, "pages/paper.html", {"paper": line, "scan_id": str(uuid7()), "paper_form": again})
    if line.state in ("waiting", "under way"):
        response["Refresh"] = "1"
    return response


def _person(request: HttpRequest) -> SignedOn:
    person = current(request)
    if person is None:
        raise NotUnderstood
    return person


def _asked(request: HttpRequest, person: SignedOn) -> KeptPaper:
    post = request.POST
    kind, day = post.get("kind", ""), post.get("as_known_on", "").strip()
    if kind in BY_NAME and kind not in kinds_for(person.roles, person.tasks):
        raise NotAllowed
    words = {name: "\n".join(post.getlist(name)).replace("\r\n", "\n") for name in post}
    try:
        known = moment(day) if day else None
        return keeping.ask(kind, words, post.get("form", "pdf"), known, person.person, person.roles)
    except (PaperError, DayError) as error:
        raise NotUnderstood(what=str(error), why=_("A paper answers one question."), now=_("Ask again.")) from None
    except LookupError as error:
        raise NotThere(what=str(error)) from None


def _kept(number: int, person: SignedOn) -> KeptPaper:
    """The paper, where this person may see all that may stand in it."""
    kept = KeptPaper.objects.filter(id=number).first()
    if kept is None or kept.kind not in kinds_for(person.roles, person.tasks):
        raise NotThere(what=_("There is no such paper."))
    if not Reader.of(person.roles).covers(keeping.reader_of(kept)):
        raise NotAllowed(
            what=_("This paper holds names or words that you do not see."), why=_("It was made for another role."),
            now=_("Ask for the same paper yourself: yours leaves them out."),
        )  # fmt: skip
    return kept


def _file(request: HttpRequest, kept: KeptPaper, person: SignedOn) -> HttpResponseBase:
    scan_id = form_number(request.POST)
    if not kept.digest or not keeping.path_of(kept.digest).is_file():
        raise NotThere(
            what=_("The file of this paper is not here."),
            why=_("It is still being made, or its folder was not restored."),
            now=_("Look at the paper again in a minute, or ask for it anew."),
        )  # fmt: skip
    answer, path = take(kept, person.person, scan_id)
    if answer.outcome == "refused":
        raise NotAllowed(what=speak(answer.what), why=speak(answer.why), now=speak(answer.now))
    return FileResponse(
        path.open("rb"), as_attachment=True, filename=keeping.name_of(kept), content_type=BY_FORM[kept.form].type
    )


def _lines(kept: list[KeptPaper]) -> list[PaperLine]:
    names = names_of({one.asked_by for one in kept})
    jobs = keeping.jobs_of(kept)
    return [_line(one, names[one.asked_by], jobs.get(one.id)) for one in kept]


def _line(kept: KeptPaper, by: str, job: keeping.Progress | None) -> PaperLine:
    state = "ready" if kept.digest else "not made" if kept.error else "under way" if job and job.total else "waiting"
    words = {
        "ready": _("ready"), "not made": _("not made"), "waiting": _("waiting for the worker"),
        "under way": _("%(done)s of %(total)s rows") % {
            "done": grouped(job.done if job else 0), "total": grouped(job.total if job else 0),
        },
    }[state]  # fmt: skip
    return PaperLine(
        number=keeping.number_of(kept),
        what=f"{BY_NAME[kept.kind].title} {kept.title}".strip(),
        question=" ".join(part for value in kept.words.values() for part in value.split("\n")),
        form=str(BY_FORM[kept.form].title),
        as_known_on=kept.as_known_on,
        by=by,
        asked=kept.asked,
        size=size_said(kept.size),
        digest=in_fours(kept.digest),
        fingerprint=in_fours(kept.fingerprint),
        state=state,
        state_words=words,
        url=reverse("paper", args=[kept.id]),
        error=kept.error,
        done=job.done if job else 0,
        total=job.total if job else 0,
    )


def size_said(size: int) -> str:
    """ "56 kB": three digits at most; “” of nothing."""
    for unit, word in SIZES:
        if size >= unit:
            return f"{size / unit:.1f} {word}" if size < 10 * unit else f"{size // unit} {word}"
    return _("%(n)d bytes") % {"n": size} if size else ""
