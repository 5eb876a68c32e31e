"""Impact tests under /api/: each series of drops and how it ended; an end that was recorded wrongly taken back."""

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from plant.errors import NotSignedIn, NotUnderstood
from plant.sign_on import current, device_of
from trace.api.asked import KNOWN, known_on
from trace.api.shapes import Shape
from trace.genealogy.documents import utc
from trace.genealogy.impact import series
from trace.genealogy.walk import nodes
from trace.recording.acts.impact import ReopenImpact
from trace.recording.commands import By
from trace.recording.record import record
from trace.speech import speak


class ImpactDrop(Shape):
    drop = serializers.UUIDField()
    height = serializers.CharField(help_text="m, decimal text.")
    result = serializers.ChoiceField(choices=("pass", "ductile", "brittle"))
    temperature = serializers.CharField(help_text="°C, decimal text.")
    dart = serializers.CharField()
    dropped = serializers.DateTimeField()


class ImpactAnswer(Shape):
    specimen = serializers.CharField(help_text="The plate, or the number of the moulding or part.")
    end = serializers.UUIDField(allow_null=True, help_text="The record that ended it; null: it is open.")
    verdict = serializers.ChoiceField(choices=("pass", "fail", "undecided"), allow_null=True)
    mean = serializers.CharField(allow_null=True, help_text="Mean failure height in m; null: not known.")
    drops = ImpactDrop(many=True)


class EndTakenBack(Shape):
    number = serializers.UUIDField(help_text="Of this call: sent again under it, it counts once.")
    specimen = serializers.CharField()
    end = serializers.UUIDField()
    reason = serializers.CharField()


class EndOutcome(Shape):
    outcome = serializers.ChoiceField(choices=("accepted", "warned", "flagged", "refused"))
    said = serializers.CharField()


class Impact(APIView):
    """Impact tests, as known on a day; the end of one taken back."""

    @extend_schema(operation_id="impact", responses=ImpactAnswer(many=True), parameters=[KNOWN])
    def get(self, request: Request) -> Response:
        """By specimen, in the order in which they were begun."""
        known = known_on(request)
        told = series(None, known)
        at = nodes(told, known)
        return Response([
            {
                "specimen": at[unit].said, "end": one.uid or None, "verdict": one.verdict or None,
                "mean": one.mean or None,
                "drops": [
                    {
                        "drop": drop.uid, "height": drop.height, "result": drop.result,
                        "temperature": drop.temperature, "dart": drop.dart, "dropped": utc(drop.happened),
                    }
                    for drop in one.drops
                ],
            }
            for unit, every in sorted(told.items()) for one in every
        ])  # fmt: skip

    @extend_schema(operation_id="reopen_impact", request=EndTakenBack, responses=EndOutcome)
    def post(self, request: Request) -> Response:
        """Its drops are open again; what a pass had cleared is held again. 409 where it was refused, with why."""
        person = current(request._request)
        if person is None:
            raise NotSignedIn
        sent: dict[str, Any] = request.data if isinstance(request.data, dict) else {}
        try:
            number = UUID(str(sent.get("number")))
        except ValueError:
            raise NotUnderstood(what="“number” is a UUID of this call.") from None
        said = {name: str(sent.get(name) or "").strip()[:2000] for name in ("specimen", "end", "reason")}
        command = ReopenImpact(unit=said["specimen"][:60], end=said["end"][:40], reason=said["reason"])
        by = By(person=person.person, station="impact", device=device_of(request._request).id, scan_id=number)
        answer = record(command, by)
        words = " ".join(part for part in (answer.recorded, answer.what, answer.why, answer.now) if part)
        status = 409 if answer.outcome == "refused" else 200
        return Response({"outcome": answer.outcome, "said": speak(words)}, status=status)
