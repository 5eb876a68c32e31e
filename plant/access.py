"""Who may open what: the roles, the table of rights, and what a page is told about the person signed on.

To add an address: one row in RIGHTS under the name of its URL pattern. A station says in its own file who may open it.
An address without a row is refused to everybody, and a test names it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Literal

from django.utils import timezone
from django.utils.translation import gettext as _

from plant.kinds.table import KINDS
from plant.roles import ROLES

ANONYMOUS = "anonymous"
EVERYBODY = frozenset(ROLES)
ANYONE = EVERYBODY | {ANONYMOUS}

Roles = frozenset[str]


@dataclass(frozen=True, slots=True)
class Right:
    """Roles that may read (GET, HEAD) and send (POST); None: the address does not take that method."""

    get: Roles | None = None
    post: Roles | None = None


@dataclass(frozen=True, slots=True)
class PerPart:
    """Rights that hang on one part of the address: `part` is its name, `each` the right for each value."""

    part: str
    each: Mapping[str, Right] = field(default_factory=dict)


def _roles(*names: str) -> Roles:
    unknown = set(names) - EVERYBODY
    if unknown:
        raise ValueError(f"Unknown roles in the table of rights: {sorted(unknown)}.")
    return frozenset(names)


def _both(*names: str) -> Right:
    return Right(get=_roles(*names), post=_roles(*names))


# Filled by plant/stations.py: each station says in its own file who may open it.
STATION_ROLES: dict[str, Roles] = {}
STATION_RIGHTS: dict[str, Right] = {}


def declare_station(slug: str, *roles: str, readers: Iterable[str] = ()) -> None:
    """These roles may open the station and send its form; `readers` may look at it. Raises ValueError for a word that
    is no role."""
    STATION_ROLES[slug] = who = _roles(*roles)
    STATION_RIGHTS[slug] = Right(get=who | _roles(*readers), post=who)


# Plant data by kind: who may change it says plant/kinds; the auditor reads all of it.
SETUP_RIGHTS = {
    kind.name: Right(get=_roles(*kind.changed_by, "auditor"), post=_roles(*kind.changed_by)) for kind in KINDS
}

# What is open in the plant (trace/pages/open_lists): who may read each list, and who may send a form beside it. Which
# of its forms is each station's own row: who may end a hold is who may open that station.
OPEN_LIST_RIGHTS = {
    "holds": Right(get=EVERYBODY, post=_roles("lead", "quality", "deputy")),
    "questions": Right(get=_roles("lead", "quality", "deputy", "auditor"), post=_roles("lead", "quality", "deputy")),
    "late": Right(get=_roles("lead", "quality", "deputy", "auditor")),
    "lots": Right(
        get=_roles("stores", "lead", "quality", "deputy", "planner", "auditor"), post=_roles("quality", "deputy")
    ),
    "samples": Right(get=_roles("stores", "lead", "quality", "deputy", "auditor")),
    "complaints": Right(get=_roles("lead", "quality", "deputy", "auditor")),
    "cases": Right(get=_roles("quality", "deputy", "auditor")),
    "inspections": Right(
        get=_roles("lead", "quality", "deputy", "planner", "auditor"), post=_roles("lead", "quality", "deputy")
    ),
    "inspected": Right(get=_roles("lead", "quality", "deputy", "planner", "auditor")),
    "swaps": Right(get=_roles("lead", "quality", "deputy", "auditor"), post=_roles("lead", "quality", "deputy")),
    "training": Right(
        get=_roles("lead", "quality", "deputy", "administrator", "auditor"), post=_roles("lead", "quality", "deputy"),
    ),
    "badges": Right(get=_roles("lead", "quality", "deputy", "auditor"), post=_roles("lead", "quality", "deputy")),
    "instruments": Right(
        get=_roles("lead", "quality", "deputy", "maintenance", "auditor"),
        post=_roles("quality", "deputy", "maintenance"),
    ),
    "stock-counts": Right(get=_roles("stores", "lead", "quality", "deputy", "auditor")),
    "handovers": Right(get=_roles("lead", "quality", "deputy", "auditor")),
    "unlike": Right(get=_roles("lead", "quality", "deputy", "auditor")),
    "cycles": Right(get=_roles("operator", "lead", "quality", "deputy", "planner", "maintenance", "auditor")),
}

# A scope can name a person as what hulls have in common.
SCOPE_RIGHT = Right(get=_roles("auditor", "quality", "deputy", "lead", "administrator"))

# Who asks may save what is answered, but for the auditor, who changes nothing.
SAVING_RIGHT = Right(get=SCOPE_RIGHT.get, post=_roles("quality", "deputy", "lead", "administrator"))
OPEN_LIST_RIGHTS |= {"scopes": SCOPE_RIGHT, "scopes-aside": SCOPE_RIGHT}

# What a paper that is taken away shows only to some: who the goods went to, and what people wrote in their own words.
CONSIGNEES_SEEN_BY = _roles("auditor", "quality", "deputy", "lead", "planner", "warehouse", "administrator")
WORDS_SEEN_BY = _roles("auditor", "quality", "deputy", "lead")

# Taking a paper sends a form, since it is recorded who read what; nothing else comes of it.
PAPERS_RIGHT = _both("auditor", "quality", "deputy", "lead", "planner", "administrator")

RIGHTS: dict[str, Right | PerPart] = {
    "sign_in": Right(get=ANYONE, post=ANYONE),
    "sign_in_desk": Right(get=ANYONE, post=ANYONE),
    "sign_out": Right(post=ANYONE),
    "home": Right(get=EVERYBODY),
    "short_address": Right(get=ANYONE),
    "where": Right(get=EVERYBODY),
    "station": PerPart("slug", STATION_RIGHTS),
    "labels_pdf": Right(
        get=_roles("stores", "warehouse", "lead", "quality", "deputy", "maintenance", "administrator")
    ),
    "plant_labels": Right(get=_roles("stores", "lead", "maintenance", "administrator")),
    # Open to anybody, since it shows how to sign on; it is there in a database marked demo only.
    "labels_to_try": Right(get=ANYONE),
    "hull": Right(get=EVERYBODY),
    "lot": Right(get=EVERYBODY),
    "unit": Right(get=EVERYBODY),
    "balance": Right(get=EVERYBODY),
    "balance_of_days": Right(get=EVERYBODY),
    "dispersion": Right(get=EVERYBODY),
    "dispersion_of": Right(get=EVERYBODY),
    "plan": Right(get=EVERYBODY),
    "compare": Right(get=EVERYBODY),
    "scope": SAVING_RIGHT,
    "saved_scope": SAVING_RIGHT,
    # Who lays and ends holds at their stations does so here; everybody may read what is stopped.
    "scope_holds": Right(get=SCOPE_RIGHT.get, post=_roles("quality", "deputy")),
    "common_cause": SCOPE_RIGHT,
    # Whom to phone: those who work with what is held, and those who answer for it.
    "hold_known": Right(get=_roles("operator", "stores", "warehouse", "lead", "quality", "deputy", "auditor")),
    "load_paper": Right(get=CONSIGNEES_SEEN_BY),
    # How far a walk is tells who put which hull where: those who walk and those who answer for it.
    "containment": Right(
        get=_roles("operator", "stores", "warehouse", "lead", "quality", "deputy", "auditor"),
        post=_roles("lead", "quality", "deputy"),
    ),
    # Names outside people, and goes out in the plant's name.
    "drill": Right(get=_roles("quality", "deputy", "auditor"), post=_roles("quality", "deputy")),
    "recall": Right(get=_roles("quality", "deputy", "auditor"), post=_roles("quality", "deputy")),
    "search": Right(get=EVERYBODY),
    # Quality and its deputy look into complaints; a lead takes one; the auditor reads, without buyers' names.
    "take_complaint": _both("lead", "quality", "deputy"),
    "complaint": Right(get=_roles("lead", "quality", "deputy", "auditor"), post=_roles("quality", "deputy")),
    "complaint_photo": Right(get=_roles("lead", "quality", "deputy", "auditor")),
    "cases": Right(get=_roles("quality", "deputy", "auditor"), post=_roles("quality", "deputy")),
    "case": Right(get=_roles("quality", "deputy", "auditor"), post=_roles("quality", "deputy")),
    "impact": Right(get=EVERYBODY, post=_roles("lead", "quality", "deputy")),
    "suspected_swaps": Right(get=_roles("quality", "deputy", "auditor")),
    # A shop tells who bought a hull; names of owners are shown to quality and its deputy alone.
    "owners": Right(get=_roles("lead", "quality", "deputy", "auditor"), post=_roles("lead", "quality", "deputy")),
    "open_list": PerPart("what", OPEN_LIST_RIGHTS),
    "papers": PAPERS_RIGHT,
    "paper": PAPERS_RIGHT,
    "records": Right(get=_roles("auditor", "quality", "administrator")),
    "rules": Right(get=EVERYBODY, post=_roles("administrator")),
    "api_schema": Right(get=EVERYBODY),
    "api_genealogy": Right(get=EVERYBODY),
    "api_balance": Right(get=EVERYBODY),
    "api_balances": Right(get=EVERYBODY),
    "api_papers": PAPERS_RIGHT,
    "api_paper": PAPERS_RIGHT,
    "api_rules": Right(get=EVERYBODY),
    "api_scope": SCOPE_RIGHT,
    "api_saved_scopes": SCOPE_RIGHT,
    "api_saved_scope": SCOPE_RIGHT,
    "api_common_cause": SCOPE_RIGHT,
    "api_calibrations": Right(
        get=_roles("lead", "quality", "deputy", "maintenance", "auditor"),
        post=_roles("quality", "deputy", "maintenance"),
    ),
    "api_complaints": Right(get=_roles("quality", "deputy", "auditor")),
    "api_cases": Right(get=_roles("quality", "deputy", "auditor")),
    "api_impact": Right(
        get=_roles("lead", "quality", "deputy", "auditor"), post=_roles("lead", "quality", "deputy")
    ),
    "api_owners": Right(get=_roles("quality", "deputy", "auditor"), post=_roles("lead", "quality", "deputy")),
    "api_plant_data": PerPart("kind", {kind: Right(get=right.get) for kind, right in SETUP_RIGHTS.items()}),
    "setup": PerPart("kind", SETUP_RIGHTS),
}

# A day badge never carries a role that decides over others or over records, and opens no page of the desk.
DAY_BADGE_ROLES = _roles("operator", "stores", "warehouse")
DAY_BADGE_ADDRESSES = frozenset({"home", "sign_in", "sign_in_desk", "sign_out", "short_address", "station", "where"})

Answer = Literal["yes", "no", "no such address", "no such method"]


def right_for(name: str, parts: Mapping[str, Any] | None = None) -> Right | None:
    """The row for an address by its URL name and the parts of the address; None when it has no row."""
    row = RIGHTS.get(name)
    if isinstance(row, PerPart):
        return row.each.get(str((parts or {}).get(row.part, "")))
    return row


def decide(
    roles: Iterable[str],
    name: str,
    method: str,
    parts: Mapping[str, Any] | None = None,
    tasks: Iterable[str] | None = None,
) -> Answer:
    """Whether a person of these roles ({"anonymous"} for nobody) may use an address by a method.

    `tasks` are the stations of a day badge; None for anybody else. A person without any role counts as
    nobody.
    """
    right = right_for(name, parts)
    if right is None:
        return "no such address"
    may = right.get if method in {"GET", "HEAD"} else right.post if method == "POST" else None
    if may is None:
        return "no such method"
    if not (set(roles) | {ANONYMOUS}) & may:
        return "no"
    if tasks is not None and not _day_badge_opens(name, parts, tasks):
        return "no"
    return "yes"


def allowed(
    roles: Iterable[str],
    name: str,
    method: str = "GET",
    parts: Mapping[str, Any] | None = None,
    tasks: Iterable[str] | None = None,
) -> bool:
    """True when `decide` says yes; for links and buttons."""
    return decide(roles, name, method, parts, tasks) == "yes"


def methods_of(right: Right) -> list[str]:
    """The methods an address takes, for the Allow header."""
    return (["GET", "HEAD"] if right.get is not None else []) + (["POST"] if right.post is not None else [])


def _day_badge_opens(name: str, parts: Mapping[str, Any] | None, tasks: Iterable[str]) -> bool:
    if name not in DAY_BADGE_ADDRESSES:
        return False
    return name != "station" or str((parts or {}).get("slug", "")) in set(tasks)


def counts_at(body: Mapping[str, Any], ended: bool, at: datetime) -> bool:
    """Whether a Person (its body) counts at a moment: not ended, and `until` not past.

    `until` is ISO 8601; without an offset it is the plant's time, and a date alone counts to its end. One
    that cannot be read ends the person: rights that nobody can date are none.
    """
    until = body.get("until")
    if ended or not until:
        return not ended
    try:
        moment = datetime.fromisoformat(str(until))
    except ValueError:
        return False
    if len(str(until)) == len("2027-06-30"):
        moment += timedelta(days=1)
    return at < (moment if moment.tzinfo else timezone.make_aware(moment))


def roles_of(body: Mapping[str, Any]) -> Roles:
    """The roles a Person's body gives; of a day badge only those it may carry. Unknown words give nothing."""
    roles = frozenset(map(str, body.get("roles") or ())) & EVERYBODY
    return roles & DAY_BADGE_ROLES if body.get("day_badge") else roles


def day_badge_tasks(body: Mapping[str, Any]) -> Roles | None:
    """The stations a day badge opens: its `tasks` (slugs) within its roles; None when it is no day badge.

    A day badge without `tasks` opens the stations of its roles; it ends with its `until` (see counts_at).
    """
    if not body.get("day_badge"):
        return None
    roles = roles_of(body)
    of_roles = frozenset(slug for slug, may in STATION_ROLES.items() if may & roles)
    tasks = body.get("tasks")
    return of_roles if tasks is None else of_roles & frozenset(map(str, tasks))


def role_words(role: str) -> str:
    """The role as people say it."""
    words = {
        "operator": _("operator"),
        "stores": _("stores"),
        "warehouse": _("warehouse"),
        "lead": _("shift lead"),
        "quality": _("quality manager"),
        "deputy": _("quality deputy"),
        "auditor": _("auditor"),
        "planner": _("planner"),
        "maintenance": _("maintenance"),
        "administrator": _("plant administrator"),
    }
    return words.get(role, role)
