"""What the desk's lists and plain pages show: search, rules, first page, sign-in, short address, errors.

As in sheets.py: words are translated, an empty string means "nothing to say", an empty `url` drops the link.
"""

from dataclasses import dataclass
from datetime import date, datetime

from trace.drawings.arrangement import ArrangementPair
from trace.pages.open_lists.listed import Line


@dataclass(frozen=True, slots=True)
class FoundLine:
    """One answer of a search, also of half a plate."""

    name: str
    kind: str  # "hull", "lot", "mould"
    detail: str  # may be empty
    place: str = ""
    held: bool = False
    url: str = ""
    why: str = ""  # of a hold on a scope: what is shared, and why that is on hold


@dataclass(frozen=True, slots=True)
class InsteadLine:
    """Nothing fits all that was asked: what fits without one word of it, and that one thing where it is only one."""

    text: str
    url: str
    only: FoundLine | None = None


@dataclass(frozen=True, slots=True)
class SearchPage:
    """Find by any part of a code, or by model, colour and month when the plate is gone."""

    asked: str = ""
    model: str = ""
    colour: str = ""
    month: str = ""  # "2026-04"
    place: str = ""
    status: str = ""
    models: tuple[tuple[str, str], ...] = ()  # (value, words)
    colours: tuple[tuple[str, str], ...] = ()
    places: tuple[tuple[str, str], ...] = ()
    statuses: tuple[tuple[str, str], ...] = ()
    found: tuple[FoundLine, ...] = ()
    most: int = 0  # so many hulls fit; 0: all of them are shown
    cut: bool = False  # more was found than is shown
    searched: bool = False
    first: int = 1  # the numbers of the first and the last hull that are shown
    last: int = 0
    newer_url: str = ""
    older_url: str = ""
    instead: tuple[InsteadLine, ...] = ()
    hint: str = ""  # "Did you mean …", "check character does not fit: one sign is misread"


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One rule as it stands."""

    code: str
    guards: str  # "load, close mould"
    sentence: str  # what · why · what now, as a person reads it
    verdict: str  # "refuse", "hold", "warn" or "off"
    set_by: str = ""  # "as delivered" / "Priya Ashdown, 3 Mar 2026"
    who_may_override: str = ""  # empty: nobody
    fired: int = 0
    overridden: int = 0
    flagged: int = 0  # told after the act, or held what it touched
    heeded: int = 0  # refused, and then the same act was recorded otherwise: it was right
    change_url: str = ""
    fixed: bool = False  # a plant cannot switch it


@dataclass(frozen=True, slots=True)
class SettingLine:
    """One change of a rule, as it was recorded."""

    when: datetime
    rule: str
    verdict: str
    who: str


@dataclass(frozen=True, slots=True)
class RuleGroup:
    """The rules of one part of the plant, folded up until somebody opens it or looks for one of them."""

    title: str
    rules: tuple[RuleLine, ...]
    open: bool = False

    @property
    def verdicts(self) -> tuple[tuple[str, int], ...]:
        """(verdict, how many) in the order of their weight; none that does not occur."""
        counts = [(one, sum(rule.verdict == one for rule in self.rules)) for one in ("refuse", "hold", "warn", "off")]
        return tuple(pair for pair in counts if pair[1])

    @property
    def fired(self) -> int:
        return sum(rule.fired for rule in self.rules)


@dataclass(frozen=True, slots=True)
class RulesPage:
    """What this plant refuses and warns of."""

    in_force: str  # "as set on 3 Mar 2026 14:00"
    since: str  # period of the counts
    groups: tuple[RuleGroup, ...] = ()
    asked: str = ""  # the words looked for
    station: str = ""  # the part of the plant looked at
    verdict: str = ""  # only those that now say this
    stations: tuple[tuple[str, str], ...] = ()  # (value, words) that can be looked at
    verdicts_now: tuple[tuple[str, str], ...] = ()
    count: int = 0  # of all rules, found or not
    name: str = ""  # the rule set's short name, as answers cite it
    history: tuple[SettingLine, ...] = ()  # newest first
    changing: str = ""  # code of the rule whose form is open
    verdicts: tuple[tuple[str, str], ...] = ()  # (value, words) it can be switched to
    scan_id: str = ""  # of the form, so that sending it twice counts once
    said: str = ""  # the answer to what was just sent
    error: str = ""

    @property
    def rules(self) -> tuple[RuleLine, ...]:
        """Those that are shown, whatever group they stand in."""
        return tuple(rule for group in self.groups for rule in group.rules)

    @property
    def searched(self) -> bool:
        return bool(self.asked or self.station or self.verdict)


@dataclass(frozen=True, slots=True)
class StationLine:
    """A station on the first page: one word and one line."""

    word: str
    line: str
    url: str
    drawing: str = ""  # the template of a station's drawing; empty for a page of the desk


@dataclass(frozen=True, slots=True)
class StationGroup:
    """Stations of one part of the plant, or pages of the desk."""

    title: str
    stations: tuple[StationLine, ...]

    @property
    def drawn(self) -> bool:
        return any(one.drawing for one in self.stations)


@dataclass(frozen=True, slots=True)
class WaitLine:
    """One list of open things on the first page: how many there are, and since when the oldest is open."""

    word: str
    line: str
    url: str
    count: int
    oldest: datetime | None
    stop: bool  # holds: drawn with the stop sign
    slug: str = ""
    letter: str = ""  # of its balloon on the plant's drawing
    lines: tuple[Line, ...] = ()  # at a desk: the oldest of them, each with its thing


@dataclass(frozen=True, slots=True)
class DeskHome:
    """The first page at a desk as a sheet: the plant with what waits in it, and the oldest of each list."""

    plant: str
    person: str
    roles: str
    now: datetime
    drawing: ArrangementPair | None
    open: tuple[WaitLine, ...]  # of which there is something, the one with the oldest first
    aside: tuple[WaitLine, ...]  # holds, and what was changed by what was told late
    none: tuple[str, ...]  # the lists of which nothing is open, by name
    count: int = 0  # open things in all


@dataclass(frozen=True, slots=True)
class HomePage:
    """The first page after signing in: what waits before where to go."""

    waits: tuple[WaitLine, ...]
    groups: tuple[StationGroup, ...]
    left: tuple[StationLine, ...] = ()  # work begun and not recorded yet, at whatever tablet
    where_url: str = ""  # takes what is scanned here; empty for who has no station
    desk: DeskHome | None = None  # at a desk: the sheet


@dataclass(frozen=True, slots=True)
class SignInPage:
    """Badge and PIN on the floor, key and password at the desk."""

    floor: bool
    error: str = ""
    next_url: str = ""
    station: str = ""
    people: tuple[str, ...] = ()  # already signed on at this station
    labels_url: str = ""  # of a demo: its badges to scan, with their PINs
    badge: str = ""  # read already; the PIN is asked for


@dataclass(frozen=True, slots=True)
class ShortAddressPage:
    """What a stranger sees at a label's address: the same page for every well-formed code, or the notice."""

    plant: str
    contact: str
    notice: str = ""  # text of an active stop-use notice
    notice_title: str = ""
    notice_date: date | None = None
    sign_in_url: str = ""
