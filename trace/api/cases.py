"""Complaints and cases under /api/: what was told and how far it was looked into, without a name or a free word."""


from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from trace.api.asked import KNOWN, known_on
from trace.api.shapes import Shape
from trace.recording.acts.complaint_words import CAUSES, HULLS, SUSPECT_STANDS, SYMPTOMS, WAYS
from trace.sheets.cases.documents import cases_as_json, complaints_as_json
from trace.sheets.cases.told import hulls, told


class ComplaintAnswer(Shape):
    number = serializers.IntegerField()
    taken = serializers.DateTimeField(help_text="When it was recorded.")
    hull = serializers.CharField(allow_null=True, help_text="Its plate as it is now; null: not found.")
    case = serializers.IntegerField(allow_null=True)
    open = serializers.BooleanField()
    photos = serializers.IntegerField()
    symptom = serializers.ChoiceField(choices=tuple(SYMPTOMS))
    spot = serializers.CharField(allow_null=True, help_text="A name of the model's drawing; null: not told.")
    plate = serializers.CharField(allow_null=True, help_text="What of the plate was read, ? for a sign that was not.")
    product = serializers.CharField(allow_null=True)
    colour = serializers.CharField(allow_null=True)
    month = serializers.CharField(allow_null=True, help_text="2026-04, or a year.")
    sold = serializers.DateField(allow_null=True)
    failed = serializers.DateField(allow_null=True)
    reported = serializers.DateField(allow_null=True)
    hours = serializers.CharField(allow_null=True, help_text="Of use, decimal text.")
    months = serializers.CharField(allow_null=True, help_text="Of use, decimal text.")
    through = serializers.CharField(allow_null=True, help_text="The consignee who passed it on.")


class CaseSuspect(Shape):
    cause = serializers.ListField(child=serializers.CharField())
    stands = serializers.ChoiceField(choices=tuple(SUSPECT_STANDS))


class CaseScope(Shape):
    cause = serializers.ListField(child=serializers.CharField())
    as_known_on = serializers.DateTimeField()
    certain = serializers.IntegerField()
    may = serializers.IntegerField()
    cannot = serializers.IntegerField()
    tree_size = serializers.IntegerField()


class CaseHoldAnswer(Shape):
    hold = serializers.UUIDField()
    cause = serializers.ListField(child=serializers.CharField())


class CaseTold(Shape):
    consignee = serializers.CharField()
    day = serializers.DateField()
    way = serializers.ChoiceField(choices=tuple(WAYS))


class CaseClosed(Shape):
    cause = serializers.ChoiceField(choices=tuple(CAUSES))
    hulls = serializers.ChoiceField(choices=tuple(HULLS))


class CaseAnswer(Shape):
    number = serializers.IntegerField()
    opened = serializers.DateTimeField()
    open = serializers.BooleanField()
    complaints = serializers.ListField(child=serializers.IntegerField())
    suspects = CaseSuspect(many=True)
    scopes = CaseScope(many=True)
    holds = CaseHoldAnswer(many=True)
    told = CaseTold(many=True)
    closed = CaseClosed(allow_null=True)


class Complaints(APIView):
    """Every complaint, as known on a day: its hull where it was found, and what of it is missing."""

    @extend_schema(operation_id="complaints", responses=ComplaintAnswer(many=True), parameters=[KNOWN])
    def get(self, request: Request) -> Response:
        """By number. Buyers, contacts and words are never told here."""
        every = told(known_on(request))
        return Response(complaints_as_json(every, hulls(one.hull for one in every.complaints.values())))


class Cases(APIView):
    """Every case, as known on a day: complaints, suspects, kept scopes, holds, who was told, and its end."""

    @extend_schema(operation_id="cases", responses=CaseAnswer(many=True), parameters=[KNOWN])
    def get(self, request: Request) -> Response:
        """By number."""
        return Response(cases_as_json(told(known_on(request))))
