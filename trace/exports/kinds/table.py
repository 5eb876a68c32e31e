"""Every kind of paper there is."""

from trace.exports.kinds import (
    balance,
    balances_of,
    case,
    drill,
    hull,
    load,
    lot,
    saved_scope,
    scope,
    side_by_side,
    supplier_evidence,
    two_hulls,
)
from trace.exports.kinds.kind import PaperKind

KINDS: tuple[PaperKind, ...] = (
    hull.KIND, lot.KIND, scope.KIND, balance.KIND, balances_of.KIND, case.KIND, drill.KIND, load.KIND,
    side_by_side.KIND, saved_scope.KIND, two_hulls.KIND,
    supplier_evidence.KIND,
)  # fmt: skip
BY_NAME: dict[str, PaperKind] = {kind.name: kind for kind in KINDS}
