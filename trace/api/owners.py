"""Owners of hulls under /api/: who is registered, without a name or a contact; and registering many in one call."""

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
from trace.genealogy.owners import USES, owners
from trace.genealogy.walk import nodes
from trace.recording.acts.owners import OWNER_IS
from trace.sheets.owners.registering import COLUMNS, MOST_ROWS, Row, register


class OwnerAnswer(Shape):
    registration = serializers.UUIDField()
    hull = serializers.CharField()
    owner_is = serializers.ChoiceField(choices=tuple(OWNER_IS))
    sold = serializers.DateField(allow_null=True)
    region = serializers.CharField(allow_null=True, help_text="After ISO 3166-2; null: unknown.")
    use = serializers.ChoiceField(choices=tuple(USES), allow_null=True)
    registered = serializers.DateTimeField()


class OwnerRow(Shape):
    plate = serializers.CharField(help_text="The plate, or a part of it that fits one hull alone.")
    sold = serializers.DateField(required=False)
    region = serializers.CharField(required=False)
    use = serializers.ChoiceField(choices=tuple(USES), required=False)
    owner = serializers.CharField(required=False)
    contact = serializers.CharField(required=False)
    owner_is = serializers.ChoiceField(choices=tuple(OWNER_IS), required=False)


class OwnersSent(Shape):
    number = serializers.UUIDField(help_text="Of this call: sent again under it, each row counts once.")
    rows = OwnerRow(many=True)


class OwnerOutcome(Shape):
    plate = serializers.CharField()
    hull = serializers.CharField(allow_null=True)
    kept = serializers.BooleanField()
    said = serializers.CharField(help_text="Why it was not kept, or what is odd about it.")


class Owners(APIView):
    """Owners that are registered, as known on a day; more of them registered."""

    @extend_schema(operation_id="owners", responses=OwnerAnswer(many=True), parameters=[KNOWN])
    def get(self, request: Request) -> Response:
        """By hull. Names and contacts are never told here."""
        known = known_on(request)
        told = owners(None, known)
        at = nodes(told, known)
        return Response([
            {
                "registration": one.uid, "hull": at[hull].code, "owner_is": "first" if one.first else "later",
                "sold": one.sold or None, "region": one.region or None, "use": one.use or None,
                "registered": utc(one.told),
            }
            for hull, said in sorted(told.items()) for one in said
        ])  # fmt: skip

    @extend_schema(operation_id="register_owners", request=OwnersSent, responses=OwnerOutcome(many=True))
    def post(self, request: Request) -> Response:
        """What came of each row, in their order: one that is not kept keeps no other out."""
        person = current(request._request)
        if person is None:
            raise NotSignedIn
        sent: dict[str, Any] = request.data if isinstance(request.data, dict) else {}
        rows = sent.get("rows")
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows) or len(rows) > MOST_ROWS:
            raise NotUnderstood(what=f"“rows” is a list of at most {MOST_ROWS} rows.")
        try:
            number = UUID(str(sent.get("number")))
        except ValueError:
            raise NotUnderstood(what="“number” is a UUID of this call.") from None
        read = [Row(**{name: str(row.get(name) or "").strip() for name in COLUMNS}) for row in rows]
        came = register(read, person.person, device_of(request._request).id, number)
        return Response(
            [{"plate": one.row.plate, "hull": one.hull or None, "kept": one.kept, "said": one.said} for one in came]
        )
