"""Papers for other systems: asked for, looked at until they are made, and taken; that one is taken is recorded."""

from typing import Any

from django.http import FileResponse
from django.http.response import HttpResponseBase
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from plant.errors import NotAllowed, NotSignedIn, NotThere, NotUnderstood
from plant.sign_on import SignedOn, current
from trace.api.asked import answerable
from trace.api.shapes import PaperQuestion, PaperState
from trace.exports import keeping
from trace.exports.forms import BY_FORM
from trace.exports.kinds.table import BY_NAME
from trace.exports.seen import kinds_for, papers_for
from trace.exports.taking import take
from trace.genealogy.day import moment
from trace.genealogy.documents import utc
from trace.models import KeptPaper
from trace.speech import speak

LISTED = 100


class Papers(APIView):
    """The papers that the person signed on may see, and a new one asked for."""

    @extend_schema(operation_id="papers", responses=PaperState(many=True))
    def get(self, request: Request) -> Response:
        """The newest hundred, the newest first."""
        person = _person(request)
        return Response([state(kept) for kept in papers_for(person.roles, person.tasks)[:LISTED]])

    @extend_schema(operation_id="ask_for_paper", request=PaperQuestion, responses={202: PaperState})
    def post(self, request: Request) -> Response:
        """{kind, question, form, as_known_on}: the paper as it stands, to be looked at until it is ready. The same
        question about the same moment is the same paper."""
        person = _person(request)
        asked: dict[str, Any] = request.data if isinstance(request.data, dict) else {}
        kind, question = asked.get("kind"), asked.get("question")
        if not isinstance(kind, str) or not isinstance(question, dict):
            raise NotUnderstood
        if kind in BY_NAME and kind not in kinds_for(person.roles, person.tasks):
            raise NotAllowed
        words = {str(name): "\n".join(map(str, v)) if isinstance(v, list) else str(v) for name, v in question.items()}
        day = str(asked.get("as_known_on") or "")
        with answerable():
            known = moment(day) if day else None
            kept = keeping.ask(kind, words, str(asked.get("form") or "pdf"), known, person.person, person.roles)
        return Response(state(kept), status=202)


class OnePaper(APIView):
    """One paper: how far it is; and its file."""

    @extend_schema(operation_id="paper", responses=PaperState)
    def get(self, request: Request, number: int) -> Response:
        """Its state is waiting, ready or not made."""
        return Response(state(_kept(request, number)))

    @extend_schema(operation_id="take_paper", request=None, responses={(200, "*/*"): OpenApiTypes.BINARY})
    def post(self, request: Request, number: int) -> HttpResponseBase:
        """Its file; that it was taken is recorded first."""
        kept = _kept(request, number)
        if not kept.digest or not keeping.path_of(kept.digest).is_file():
            raise NotThere(what=kept.error or "The file of this paper is not here, or is still being made.")
        answer, path = take(kept, _person(request).person)
        if answer.outcome == "refused":
            raise NotAllowed(what=speak(answer.what), why=speak(answer.why), now=speak(answer.now))
        name = keeping.name_of(kept)
        return FileResponse(path.open("rb"), as_attachment=True, filename=name, content_type=BY_FORM[kept.form].type)


def state(kept: KeptPaper) -> dict[str, Any]:
    return {
        "id": kept.id,
        "number": keeping.number_of(kept),
        "kind": kept.kind,
        "question": {name: value.split("\n") for name, value in kept.words.items()},
        "form": kept.form,
        "as_known_on": utc(kept.as_known_on),
        "asked_by": kept.asked_by,
        "asked": utc(kept.asked),
        "state": "ready" if kept.digest else "not made" if kept.error else "waiting",
        "error": kept.error,
        "records": kept.records,
        "digest": kept.digest,
        "fingerprint": kept.fingerprint,
        "size": kept.size,
    }


def _person(request: Request) -> SignedOn:
    person = current(request._request)
    if person is None:
        raise NotSignedIn
    return person


def _kept(request: Request, number: int) -> KeptPaper:
    person = _person(request)
    kept = papers_for(person.roles, person.tasks).filter(id=number).first()
    if kept is None:
        raise NotThere(what="There is no such paper.")
    return kept
