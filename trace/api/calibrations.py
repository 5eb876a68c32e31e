"""Calibrations under /api/: each with its points, limits and what followed; one more of them recorded."""

from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from plant.errors import NotSignedIn, NotUnderstood
from plant.sign_on import current, device_of
from trace.api.asked import KNOWN, known_on
from trace.api.shapes import Shape
from trace.genealogy.calibrations import Calibration, calibrations
from trace.genealogy.documents import utc
from trace.recording.acts.calibration import Calibrate
from trace.recording.commands import By
from trace.recording.record import record
from trace.speech import speak

WORDS = ("instrument", "certificate", "uncertainty", "k", "reference", "due", "done_by")


class CalibratedPoint(Shape):
    reference = serializers.CharField(help_text="Decimal text in the instrument's unit: kg, mm or °C.")
    found = serializers.CharField()
    left = serializers.CharField()
    found_limit = serializers.CharField(allow_null=True, help_text="Either side of the reference; null: none said.")
    left_limit = serializers.CharField(allow_null=True)


class CalibrationAnswer(Shape):
    calibration = serializers.UUIDField()
    instrument = serializers.CharField()
    done = serializers.DateTimeField()
    recorded = serializers.DateTimeField()
    certificate = serializers.CharField()
    reference = serializers.CharField(help_text="The masses, block or bath that were used.")
    uncertainty = serializers.CharField(allow_null=True, help_text="Expanded, of the error.")
    k = serializers.CharField(allow_null=True)
    due = serializers.DateField(allow_null=True)
    found_good = serializers.BooleanField(allow_null=True, help_text="null: not judged, since no limit is recorded.")
    left_good = serializers.BooleanField(allow_null=True)
    open = serializers.BooleanField(help_text="Found outside its limit, and nobody has followed it up.")
    cause = serializers.ListField(child=serializers.CharField(), help_text="Asks /api/scope/ for it.")
    points = CalibratedPoint(many=True)


class PointSent(Shape):
    reference = serializers.CharField()
    found = serializers.CharField()
    left = serializers.CharField(required=False, help_text="Left out: it was not adjusted.")


class CalibrationSent(Shape):
    number = serializers.UUIDField(help_text="Of this call: sent again under it, it counts once.")
    instrument = serializers.CharField()
    certificate = serializers.CharField()
    points = PointSent(many=True)
    done = serializers.DateTimeField(required=False)
    uncertainty = serializers.CharField(required=False)
    k = serializers.CharField(required=False)
    reference = serializers.CharField(required=False)
    due = serializers.DateField(required=False)
    done_by = serializers.CharField(required=False)


class CalibrationOutcome(Shape):
    outcome = serializers.ChoiceField(choices=("accepted", "warned", "flagged", "refused"))
    said = serializers.CharField()


class Calibrations(APIView):
    """Calibrations that count, as known on a day; one more of them recorded."""

    @extend_schema(operation_id="calibrations", responses=CalibrationAnswer(many=True), parameters=[KNOWN])
    def get(self, request: Request) -> Response:
        """In the order in which they were done; of one `instrument`, or of all. Who did it is never told here."""
        of = request.query_params.get("instrument", "")
        return Response([_told(one) for one in calibrations(of, known_on(request))])

    @extend_schema(operation_id="calibrate", request=CalibrationSent, responses=CalibrationOutcome)
    def post(self, request: Request) -> Response:
        """Judged by the limits of the instrument's plant data. 409 where it was refused, with why."""
        person = current(request._request)
        if person is None:
            raise NotSignedIn
        sent: dict[str, Any] = request.data if isinstance(request.data, dict) else {}
        points = sent.get("points")
        if not isinstance(points, list) or not all(isinstance(point, dict) for point in points):
            raise NotUnderstood(what="“points” is a list of references with what was found and left.")
        try:
            number = UUID(str(sent.get("number")))
        except ValueError:
            raise NotUnderstood(what="“number” is a UUID of this call.") from None
        words = {name: str(sent.get(name) or "").strip()[:200] for name in WORDS}
        rows = tuple(tuple(str(one.get(at) or "") for at in ("reference", "found", "left")) for one in points)
        by = By(person=person.person, station="plant data", device=device_of(request._request).id, scan_id=number)
        when = _done(str(sent.get("done") or ""))
        answer = record(
            Calibrate(points=rows, **words), by if when is None else replace(by, mode="tells", happened=when)
        )  # fmt: skip
        said = " ".join(part for part in (answer.recorded, answer.what, answer.why, answer.now) if part)
        status = 409 if answer.outcome == "refused" else 200
        return Response({"outcome": answer.outcome, "said": speak(said)}, status=status)


def _done(text: str) -> datetime | None:
    try:
        when = datetime.fromisoformat(text) if text else None
    except ValueError:
        raise NotUnderstood(what="“done” is a time as 2026-02-10T07:20:00+00:00.") from None
    return when if when is None or timezone.is_aware(when) else timezone.make_aware(when)


def _told(one: Calibration) -> dict[str, Any]:
    says = one.says
    return {
        "calibration": one.uid, "instrument": one.instrument, "done": utc(one.happened), "recorded": utc(one.recorded),
        "certificate": says["certificate"], "reference": says["reference"],
        "uncertainty": says["uncertainty"] or None, "k": says["k"] or None, "due": says["due"] or None,
        "found_good": one.found, "left_good": one.left, "open": one.open, "cause": list(one.cause),
        "points": [
            {
                "reference": f"{p.reference:f}", "found": f"{p.found:f}", "left": f"{p.left:f}",
                "found_limit": _or_none(p.found_limit), "left_limit": _or_none(p.left_limit),
            }
            for p in one.points
        ],
    }  # fmt: skip


def _or_none(limit: Decimal | None) -> str | None:
    return None if limit is None else f"{limit:f}"
