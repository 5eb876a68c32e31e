"""The shapes of what /api/ answers, for its description; the documents are made by trace/genealogy/documents.py."""

from rest_framework import serializers

from trace.exports.forms import FORMS

UNIT_CODES = ("KGM", "H87", "MTR")  # UN/ECE Recommendation 20: kilogram, piece, metre
KINDS = (
    "lot", "content", "blend", "charge", "load", "moulding", "part", "plate", "hull", "pack", "consignment", "sample",
    "scrap", "regrind", "return",
)  # fmt: skip
VERDICTS = ("certain", "may", "cannot")


class Shape(serializers.Serializer[dict[str, object]]):
    """Describes; never reads or writes."""


class GenealogyNode(Shape):
    id = serializers.UUIDField()
    code = serializers.CharField()
    kind = serializers.ChoiceField(choices=KINDS)
    verdict = serializers.ChoiceField(choices=("certain", "may"))
    min = serializers.CharField(allow_null=True, help_text="Decimal text in `uom`; null: not known.")
    best = serializers.CharField(allow_null=True)
    max = serializers.CharField(allow_null=True)
    uom = serializers.ChoiceField(choices=UNIT_CODES, allow_null=True)
    place = serializers.CharField(allow_null=True)


class GenealogyEdge(Shape):
    child = serializers.UUIDField()
    parent = serializers.UUIDField()  # type: ignore[assignment]  # declared fields are taken off the class
    role = serializers.CharField()
    layer = serializers.CharField(allow_null=True)
    position = serializers.CharField(allow_null=True)
    amount = serializers.CharField(allow_null=True)
    uom = serializers.ChoiceField(choices=UNIT_CODES, allow_null=True)
    event = serializers.UUIDField()


class GenealogyGap(Shape):
    id = serializers.UUIDField()
    code = serializers.CharField()
    what = serializers.CharField()
    which = serializers.CharField()
    text = serializers.CharField()


class GenealogyAnswer(Shape):
    code = serializers.CharField()
    direction = serializers.ChoiceField(choices=("back", "forward"))
    as_known_on = serializers.DateTimeField()
    tree_size = serializers.IntegerField()
    nodes = GenealogyNode(many=True)
    edges = GenealogyEdge(many=True)
    gaps = GenealogyGap(many=True)


class ScopeCounts(Shape):
    certain = serializers.IntegerField()
    may = serializers.IntegerField()
    cannot = serializers.IntegerField()


class ScopePart(Shape):
    cause = serializers.ListField(child=serializers.CharField())
    counts = ScopeCounts()
    any = ScopeCounts(help_text="However little is in them; as `counts` where no least amount was asked for.")


class ScopeAmount(Shape):
    of = serializers.CharField()
    part = serializers.CharField(allow_null=True, help_text="Layer, position or zone; null: all together.")
    min = serializers.CharField(allow_null=True, help_text="Decimal text in `uom`; null: not known.")
    best = serializers.CharField(allow_null=True)
    max = serializers.CharField(allow_null=True)
    uom = serializers.ChoiceField(choices=UNIT_CODES, allow_null=True)


class ScopeHull(Shape):
    id = serializers.UUIDField()
    code = serializers.CharField()
    verdict = serializers.ChoiceField(choices=VERDICTS)
    why = serializers.CharField()
    made = serializers.ListField(child=serializers.DateTimeField(), help_text="At a moment from the first to the last.")
    place = serializers.CharField(allow_null=True)
    region = serializers.CharField(allow_null=True, help_text="Of its owner, after ISO 3166-2; null: unknown.")
    amounts = ScopeAmount(many=True)


class ScopeAnswer(Shape):
    cause = serializers.ListField(child=serializers.CharField())
    as_known_on = serializers.DateTimeField()
    tree_size = serializers.IntegerField()
    counts = ScopeCounts()
    parts = ScopePart(many=True)
    hulls = ScopeHull(many=True)
    gaps = GenealogyGap(many=True)


class BalanceAmount(Shape):
    min = serializers.CharField(allow_null=True, help_text="Decimal text in `uom`; null: not known.")
    best = serializers.CharField(allow_null=True, help_text="With every vessel fully mixed.")
    max = serializers.CharField(allow_null=True)


class BalanceTaken(Shape):
    min = serializers.CharField(allow_null=True)
    max = serializers.CharField(allow_null=True)


class BalanceRecord(Shape):
    event = serializers.UUIDField()
    happened = serializers.DateTimeField()
    what = serializers.CharField()
    code = serializers.CharField()
    id = serializers.UUIDField()
    kind = serializers.ChoiceField(choices=KINDS)
    then = serializers.CharField()
    amount = serializers.CharField(allow_null=True)


class BalancePart(BalanceAmount):
    id = serializers.UUIDField()
    code = serializers.CharField()
    held = serializers.CharField(allow_null=True)
    of_it = BalanceAmount()
    taken = BalanceTaken()
    records = BalanceRecord(many=True)


class BalanceFigure(BalanceAmount):
    way = serializers.CharField()
    parts = BalancePart(many=True)


class BalanceSource(Shape):
    what = serializers.CharField()
    of = serializers.CharField()
    count = serializers.IntegerField()
    standard = serializers.CharField()


class BalanceUncertainty(Shape):
    expanded = serializers.CharField()
    coverage = serializers.IntegerField()
    explained = serializers.BooleanField(allow_null=True)
    unmeasured = serializers.IntegerField()
    sources = BalanceSource(many=True)


class BalanceBook(Shape):
    came = serializers.CharField(allow_null=True)
    gave = serializers.CharField()
    poured = serializers.CharField()
    differences = serializers.CharField()
    left = serializers.CharField(allow_null=True)
    unrecorded = serializers.IntegerField()


class BalanceAnswer(Shape):
    subject = serializers.CharField()
    code = serializers.CharField()
    name = serializers.CharField()
    material = serializers.CharField()
    uom = serializers.ChoiceField(choices=UNIT_CODES)
    as_known_on = serializers.DateTimeField()
    tree_size = serializers.IntegerField()
    received = serializers.CharField(allow_null=True)
    accounted = serializers.CharField(allow_null=True)
    reconciled_percent = serializers.CharField(allow_null=True)
    unexplained = BalanceAmount()
    uncertainty = BalanceUncertainty()
    counted = serializers.BooleanField()
    book = BalanceBook()
    came = BalanceFigure(many=True)
    ends = BalanceFigure(many=True)
    differences = BalanceFigure(many=True)
    gaps = GenealogyGap(many=True)


STANDINGS = ("stands out", "stands out too", "goes with", "not told apart", "within chance")


class CauseTable(Shape):
    bad = serializers.IntegerField(help_text="Bad hulls that have it.")
    hulls = serializers.IntegerField(help_text="Hulls at risk that have it.")
    coverage = serializers.FloatField(allow_null=True)
    rate_with = serializers.FloatField(allow_null=True)
    rate_without = serializers.FloatField(allow_null=True)
    lift = serializers.FloatField(allow_null=True)


class CauseIf(CauseTable):
    p_more = serializers.FloatField(help_text="If none, or all, of those had it that only may.")


class CauseStratum(Shape):
    bad = serializers.IntegerField()
    hulls = serializers.IntegerField()
    all_bad = serializers.IntegerField()
    all = serializers.IntegerField()
    p_more = serializers.FloatField()


class CauseSplit(Shape):
    within = CauseStratum()
    outside = CauseStratum()
    p_more = serializers.FloatField()
    exact = serializers.BooleanField()


class CauseDose(Shape):
    bad = serializers.FloatField(help_text="Median in the bad that hold it, in mg, pieces or mm.")
    good = serializers.FloatField()
    more_in_bad = serializers.FloatField()
    p_more = serializers.FloatField()


class CauseName(Shape):
    said = serializers.CharField()
    sort = serializers.CharField()
    ask = serializers.ListField(child=serializers.CharField(), help_text="The words for /api/scope/; empty: none.")


class Cause(CauseTable):
    names = CauseName(many=True)
    standing = serializers.ChoiceField(choices=STANDINGS)
    rate_bounds = serializers.ListField(child=serializers.FloatField())
    p_more = serializers.FloatField()
    p_both = serializers.FloatField()
    corrected = serializers.FloatField()
    cuts = serializers.IntegerField(help_text="Of so many cuts of one quantity the likeliest; 1: it is no cut.")
    p_time_held = serializers.FloatField()
    least = CauseIf()
    most = CauseIf()
    with_first_held = CauseSplit(allow_null=True)
    first_with_it_held = CauseSplit(allow_null=True)
    dose = CauseDose(allow_null=True)


class CauseWindow(Shape):
    share = serializers.FloatField()
    chance = serializers.FloatField()


class CauseTest(Shape):
    of = serializers.ListField(child=serializers.CharField())
    hulls = serializers.IntegerField()
    list = serializers.IntegerField()
    settles = serializers.BooleanField()
    may = serializers.IntegerField(help_text="So many of the hulls only may have what is looked for.")
    samples = serializers.ListField(child=serializers.CharField(), help_text="Labels of what is retained of it.")


class CommonCauseAnswer(Shape):
    bad = serializers.ListField(child=serializers.CharField())
    made = serializers.ListField(child=serializers.DateField(allow_null=True))
    sold = serializers.BooleanField()
    days = serializers.IntegerField()
    at_risk = serializers.IntegerField()
    looked_at = serializers.IntegerField()
    sets = serializers.IntegerField()
    as_known_on = serializers.DateTimeField()
    tree_size = serializers.IntegerField()
    stands_out = serializers.BooleanField()
    causes = Cause(many=True)
    window = CauseWindow()
    tests = CauseTest(many=True)
    notes = serializers.ListField(child=serializers.CharField())


class BalancesAnswer(Shape):
    balances = BalanceAnswer(many=True)


PAPER_KINDS = ("hull", "lot", "scope", "balance", "balances")


class PaperQuestion(Shape):
    kind = serializers.ChoiceField(choices=PAPER_KINDS)
    question = serializers.DictField(
        help_text='{"q": ["holds=…", …]} of a scope, {"of": "…"} of balances, {"number": "…"} of others.'
    )
    form = serializers.ChoiceField(choices=[form.name for form in FORMS])
    as_known_on = serializers.DateTimeField(required=False, help_text="Left out: now.")


class PaperState(Shape):
    id = serializers.IntegerField()
    number = serializers.CharField(help_text="As it is printed on it.")
    kind = serializers.CharField()
    question = serializers.DictField(child=serializers.ListField(child=serializers.CharField()))
    form = serializers.CharField()
    as_known_on = serializers.DateTimeField()
    asked_by = serializers.CharField()
    asked = serializers.DateTimeField()
    state = serializers.ChoiceField(choices=("waiting", "ready", "not made"))
    error = serializers.CharField()
    records = serializers.IntegerField()
    digest = serializers.CharField(help_text="SHA-256 of the file.")
    fingerprint = serializers.CharField(help_text="SHA-256 of its data: of the JSON file of the same question.")
    size = serializers.IntegerField()


class RuleShape(Shape):
    code = serializers.CharField()
    guards = serializers.ListField(child=serializers.CharField())
    reads = serializers.ListField(child=serializers.CharField())
    when = serializers.CharField(help_text="Common Expression Language, over the facts in `reads`.")
    what = serializers.CharField()
    why = serializers.CharField()
    now = serializers.CharField()
    verdict = serializers.ChoiceField(choices=("refuse", "hold", "warn", "off"))
    override = serializers.ListField(child=serializers.CharField())
    basic = serializers.BooleanField()
    fixed = serializers.BooleanField()


class RuleSet(Shape):
    rule_set = serializers.CharField()
    rules = RuleShape(many=True)
