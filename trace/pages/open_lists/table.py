"""The lists of open things, in the order in which home shows them; who may read each says plant/access.py."""

from trace.pages.open_lists.badges import BADGES
from trace.pages.open_lists.complaints import OPEN_CASES, OPEN_COMPLAINTS
from trace.pages.open_lists.cycles import OPEN_CYCLES
from trace.pages.open_lists.handovers import HANDOVERS
from trace.pages.open_lists.holds import HOLDS_IN_FORCE
from trace.pages.open_lists.inspections import INSPECTED, TO_INSPECT
from trace.pages.open_lists.instruments import INSTRUMENTS
from trace.pages.open_lists.late import CHANGED_LATE
from trace.pages.open_lists.listed import OpenList
from trace.pages.open_lists.lots import LOTS_WAITING
from trace.pages.open_lists.questions import TO_LOOK_AT
from trace.pages.open_lists.samples import SAMPLES_KEPT
from trace.pages.open_lists.scopes import SAVED_SCOPES, SCOPES_ASIDE
from trace.pages.open_lists.stock_counts import STOCK_COUNTS_OPEN
from trace.pages.open_lists.swaps import SUSPECTED_SWAPS
from trace.pages.open_lists.training import TRAINING
from trace.pages.open_lists.unlike import UNLIKE

OPEN_LISTS: dict[str, OpenList] = {
    one.slug: one
    for one in (
        HOLDS_IN_FORCE, TO_LOOK_AT, HANDOVERS, CHANGED_LATE, LOTS_WAITING, OPEN_CYCLES, TO_INSPECT, SUSPECTED_SWAPS,
        UNLIKE, OPEN_COMPLAINTS, OPEN_CASES, INSTRUMENTS, TRAINING, BADGES, SAMPLES_KEPT, STOCK_COUNTS_OPEN,
        INSPECTED, SAVED_SCOPES, SCOPES_ASIDE,
    )
}  # fmt: skip
