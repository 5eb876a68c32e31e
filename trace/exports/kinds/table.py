"""Every kind of paper there is."""

from trace.exports.kinds import balance, case, drill, hull, load, lot, scope
from trace.exports.kinds.kind import PaperKind

KINDS: tuple[PaperKind, ...] = (hull.KIND, lot.KIND, scope.KIND, balance.KIND, case.KIND, drill.KIND, load.KIND)
BY_NAME: dict[str, PaperKind] = {kind.name: kind for kind in KINDS}
