"""The addresses under /api/: what other systems read. They sign in as people do; nothing here records anything."""

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from plant.errors import NotThere
from plant.kinds import described
from plant.kinds.table import BY_NAME
from trace.api.asked import KNOWN, answerable, day_of, known_on
from trace.api.shapes import BalanceAnswer, BalancesAnswer, CommonCauseAnswer, GenealogyAnswer, RuleSet, ScopeAnswer
from trace.genealogy import shared_documents
from trace.genealogy.answer import genealogy
from trace.genealogy.as_typed import understood
from trace.genealogy.balance.days import MOST_EVENTS, balances_of_days
from trace.genealogy.balance.documents import as_document
from trace.genealogy.balance.orders import balances_of_order
from trace.genealogy.balance.subjects import balance_of
from trace.genealogy.documents import as_json
from trace.genealogy.sharing import shared_by
from trace.genealogy.walk import Direction
from trace.quality import documents as cause_documents
from trace.quality.common_cause import common_cause
from trace.quality.question import from_address
from trace.readmodels.plantdata import newest
from trace.recording.rules.engine import as_switched, rule_set
from trace.recording.rules.table import TABLE

DIRECTIONS = ("back", "forward")
# What was made of a lot is told up to so many units: some 20 MB and a few seconds.
MOST_UNITS = 20_000


class Genealogy(APIView):
    """A trace back to what went in, or forward to what was made of it, as known on a day."""

    @extend_schema(
        operation_id="genealogy",
        responses=GenealogyAnswer,
        parameters=[
            OpenApiParameter("direction", str, OpenApiParameter.PATH, enum=DIRECTIONS),
            OpenApiParameter("code", str, OpenApiParameter.PATH, description="Plate, label, lot or moulding number."),
            KNOWN,
        ],
    )
    def get(self, request: Request, direction: str, code: str) -> Response:
        """The same document for the same question about the same day, for ever; 422 where more than 20,000 units were
        made of it."""
        if direction not in DIRECTIONS:
            raise NotThere
        way: Direction = "back" if direction == "back" else "forward"
        with answerable():
            answer = genealogy(code, way, known_on(request), most=MOST_UNITS)
        return Response(as_json(answer))


class Scope(APIView):
    """Which hulls share a cause, as known on a day: each certain, may or cannot."""

    @extend_schema(
        operation_id="scope",
        responses=ScopeAnswer,
        parameters=[
            OpenApiParameter(
                "q", str, many=True, required=True,
                description="The words of the question, once for each: holds=K-5510, in=inner, and, not, arm=S2.",
            ),
            KNOWN,
        ],
    )  # fmt: skip
    def get(self, request: Request) -> Response:
        """The same document for the same question about the same day, for ever."""
        with answerable():
            answer = shared_by(understood(request.query_params.getlist("q")), known_on(request))
        return Response(shared_documents.as_json(answer))


class Balance(APIView):
    """What came of a lot, or into a container or vessel, where it is now and what is missing, as known on a day."""

    @extend_schema(
        operation_id="balance",
        responses=BalanceAnswer,
        parameters=[
            OpenApiParameter("code", str, OpenApiParameter.PATH, description="A lot number or a container's label."),
            KNOWN,
        ],
    )
    def get(self, request: Request, code: str) -> Response:
        """The same document for the same question about the same day, for ever; 422 where more than 20,000 units were
        made of it."""
        with answerable():
            balance = balance_of(code, known_on(request), most=MOST_UNITS)
        return Response(as_document(balance))


class CommonCause(APIView):
    """What bad hulls share that the rest at risk does not: every cause in the records, compared exactly."""

    @extend_schema(
        operation_id="common_cause",
        responses=CommonCauseAnswer,
        parameters=[
            OpenApiParameter("bad", str, many=True, required=True, description="A bad hull's plate, once for each."),
            OpenApiParameter("first", OpenApiTypes.DATE, description="At risk: made on this day or later."),
            OpenApiParameter("last", OpenApiTypes.DATE, description="At risk: made up to this day."),
            OpenApiParameter("days", int, description="At risk: made at least so many days before. Left out: 0."),
            OpenApiParameter("sold", str, enum=("yes", "no"), description="no: count hulls that were never sent too."),
            KNOWN,
        ],
    )
    def get(self, request: Request) -> Response:
        """The same document for the same question about the same day, for ever. p and rates are numbers; null: none."""
        with answerable():
            answer = common_cause(from_address(request.query_params), known_on(request))
        return Response(cause_documents.as_json(answer))


class Balances(APIView):
    """What was weighed and placed for a works order, or what the plant used on some days, by material."""

    @extend_schema(
        operation_id="balances",
        responses=BalancesAnswer,
        parameters=[
            OpenApiParameter("order", str, description="A works order. Left out: the plant days below."),
            OpenApiParameter("first", OpenApiTypes.DATE, description="From this plant day. Left out: from the first."),
            OpenApiParameter("last", OpenApiTypes.DATE, description="To the end of this one. Left out: to the last."),
            KNOWN,
        ],
    )
    def get(self, request: Request) -> Response:
        """One balance for each material."""
        order, known = request.query_params.get("order", "").strip(), known_on(request)
        with answerable():
            if order:
                found = balances_of_order(order, known)
            else:
                found = balances_of_days(day_of(request, "first"), day_of(request, "last"), known, most=MOST_EVENTS)
        return Response({"balances": [as_document(balance) for balance in found]})


class PlantData(APIView):
    """The plant's data of one kind as it stands. The name of a person or consignee is not told, only its digest."""

    @extend_schema(
        operation_id="plant_data",
        responses={(200, "application/json"): {"type": "array", "items": described.schema()}},
        parameters=[OpenApiParameter("kind", str, OpenApiParameter.PATH, enum=list(BY_NAME))],
    )
    def get(self, _request: Request, kind: str) -> Response:
        """One object a thing, by key: its key, revision, whether it has ended, and its body."""
        if kind not in BY_NAME:
            raise NotThere
        return Response(
            [
                {"key": t.key, "version": t.version, "ended": t.ended, "body": t.body}
                for t in newest().of_kind(kind)
            ]
        )


class Rules(APIView):
    """The rules as they stand now."""

    @extend_schema(operation_id="rules", responses=RuleSet)
    def get(self, _request: Request) -> Response:
        """{"rule_set": the name that answers cite, "rules": one object a rule}."""
        switched = newest().switched()
        rules: list[dict[str, Any]] = [
            {
                "code": r.code, "guards": list(r.guards), "reads": list(r.reads), "when": r.when, "what": r.what,
                "why": r.why, "now": r.now, "verdict": r.verdict, "override": list(r.override), "basic": r.basic,
                "fixed": r.fixed,
            }
            for r in as_switched(TABLE, switched)
        ]  # fmt: skip
        return Response({"rule_set": rule_set(TABLE, switched), "rules": rules})
