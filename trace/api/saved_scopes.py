"""Saved scopes under /api/: each question with what it was answered, and one of them asked again and compared."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from plant.errors import NotThere
from trace.api.asked import KNOWN, answerable, known_on
from trace.api.shapes import VERDICTS, GenealogyGap, ScopeCounts, Shape
from trace.genealogy.asked_again import HOW, asked_again
from trace.genealogy.causes import read_cause
from trace.genealogy.documents import utc
from trace.genealogy.saved_scopes import SavedScope, saved_scope, saved_scopes
from trace.genealogy.shared_documents import again_as_json


class SavedScopeAnswer(Shape):
    number = serializers.IntegerField()
    cause = serializers.ListField(child=serializers.CharField())
    as_known_on = serializers.DateTimeField()
    counts = ScopeCounts()
    tree_size = serializers.IntegerField()
    digest = serializers.CharField(help_text="SHA-256 of every hull with its verdict and amounts, and of the gaps.")
    saved = serializers.DateTimeField()
    put_aside = serializers.DateTimeField(allow_null=True)


class ScopeAt(Shape):
    as_known_on = serializers.DateTimeField()
    tree_size = serializers.IntegerField()
    counts = ScopeCounts()


class ChangeTold(Shape):
    verdict = serializers.ChoiceField(choices=VERDICTS)
    why = serializers.CharField()


class ToldSince(Shape):
    kind = serializers.CharField()
    recorded = serializers.DateTimeField(help_text="The last of this kind.")


class ScopeChange(Shape):
    how = serializers.ChoiceField(choices=HOW)
    id = serializers.UUIDField()
    code = serializers.CharField()
    then = ChangeTold(allow_null=True, help_text="null: not made then.")
    now = ChangeTold(allow_null=True)
    since = ToldSince(many=True, help_text="Recorded of it, or of what it was made of, since then; none: not known.")


class SavedScopeCompared(SavedScopeAnswer):
    as_saved = serializers.BooleanField(help_text="false: its moment is not answered as it was. Check the records.")
    then = ScopeAt()
    now = ScopeAt()
    changes = ScopeChange(many=True)
    gaps_new = GenealogyGap(many=True)
    gaps_gone = GenealogyGap(many=True)
    unweighed = serializers.BooleanField(help_text="true: amounts went too far to be reckoned, and are not compared.")


def _document(one: SavedScope) -> dict[str, Any]:
    return {
        "number": one.number, "cause": list(one.words), "as_known_on": utc(one.known), "counts": dict(one.counts),
        "tree_size": one.tree_size, "digest": one.digest, "saved": utc(one.saved),
        "put_aside": utc(one.aside) if one.aside else None,
    }  # fmt: skip


class SavedScopes(APIView):
    """Every saved scope, as known on a day, those put aside among them."""

    @extend_schema(operation_id="saved_scopes", responses=SavedScopeAnswer(many=True), parameters=[KNOWN])
    def get(self, request: Request) -> Response:
        """By number. Names and reasons are never told here."""
        return Response([_document(one) for one in saved_scopes(as_known_on=known_on(request))])


class OneSavedScope(APIView):
    """A saved scope asked again for its moment, and compared with what is known now."""

    @extend_schema(operation_id="saved_scope", responses=SavedScopeCompared)
    def get(self, _request: Request, number: int) -> Response:
        """`as_saved` says whether its moment is answered as it was when it was saved."""
        one = saved_scope(number) if number < 2**31 else None
        if one is None:
            raise NotThere
        with answerable():
            found = asked_again(read_cause(one.words), one.known)
        return Response({**_document(one), "as_saved": one.same_as(found.then), **again_as_json(found)})
