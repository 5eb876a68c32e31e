"""The list of holds in force: its number, what is on it, and which screen was shown which of it.

Its number is that of the newest record by which a hold was laid or ended. What a person laid is told to every screen;
what a rule holds by itself was said to whoever made the scan.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from plant.access import role_words
from plant.prepared import prepared_cursor
from trace.genealogy.live import held_name
from trace.genealogy.prepared import fetch_rows
from trace.models.heard import FORGOTTEN_AFTER
from trace.readmodels.plantdata import Directory, current
from trace.recording.floor.scopes_on_hold import live_scopes, rule_of

OLDEST_MINUTES = 15  # where the plant sets nothing
SHOWN = "Holds laid since then may be on what is on this truck."
SLOW = "A wide hold was laid, and which hulls are under it is still being worked out."
NUMBER = """
SELECT (SELECT COALESCE(max(id), 0) FROM revision), GREATEST(0, (SELECT event FROM hold ORDER BY id DESC LIMIT 1),
  (SELECT event FROM hold_release ORDER BY id DESC LIMIT 1),
  (SELECT max(id) FROM event WHERE kind = 'scope_held'), (SELECT max(id) FROM event WHERE kind = 'scope_released'))
"""
# A hold that one record laid on several things is one.
IN_FORCE = f"""
SELECT h.uid::text, e.id, u.kind, {held_name("u")}, h.rule, COALESCE(e.why, ''), COALESCE(e.person, ''), e.happened
  FROM event e CROSS JOIN LATERAL (SELECT * FROM hold o WHERE o.event = e.id ORDER BY o.id LIMIT 1) h
  JOIN unit u ON u.id = h.unit
 WHERE e.kind = 'held' AND EXISTS (SELECT FROM hold o WHERE o.event = e.id
   AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = o.id AND (r.unit IS NULL OR r.unit = o.unit)))
"""
# A wide hold whose hulls are still being found, since when.
UNDER_WAY = "SELECT min(made) FROM job WHERE kind = 'spread hold' AND state <> 'done'"
HEARD = """
INSERT INTO screen_heard (device, number, got, station, person, seen)
VALUES (%(device)s::text, %(number)s::bigint, %(got)s::timestamptz, %(station)s::text, %(person)s::text,
  %(seen)s::timestamptz)
ON CONFLICT (device) DO UPDATE SET number = EXCLUDED.number, got = EXCLUDED.got, station = EXCLUDED.station,
  person = EXCLUDED.person, seen = EXCLUDED.seen WHERE screen_heard.seen <= EXCLUDED.seen
"""
SCREENS = """
SELECT device, number, got, station, person, seen FROM screen_heard WHERE seen > %(since)s::timestamptz
 ORDER BY seen DESC, device
"""
READ = """
SELECT e.person, e.happened, (e.body::jsonb #>> '{says,number}')::bigint, e.body::jsonb->>'station'
  FROM event e WHERE e.kind = 'holds_read' ORDER BY e.id
"""


@dataclass(frozen=True, slots=True)
class Held:
    """One hold in force that a person laid. `key`: its uid, or “scope N”; `record`: that by which it was laid; `kind`:
    of what it is on, or scope; `why` a digest."""

    key: str
    record: int
    kind: str
    name: str
    rule: str
    why: str
    person: str
    laid: datetime


@dataclass(frozen=True, slots=True)
class Read:
    """Somebody pressed “read”: who, when, which list, at which station."""

    person: str
    when: datetime
    number: int
    station: str


@dataclass(frozen=True, slots=True)
class Screen:
    """What one screen was shown last. `number`: of the list that it said it has; `got`: when that was made; `seen`:
    when it said so, at which station, with whom signed on."""

    device: str
    number: int
    got: datetime
    station: str
    person: str
    seen: datetime

    def knows(self, hold: Held) -> bool:
        return self.number >= hold.record


def plant_and_number() -> tuple[Directory, int]:
    """The plant data as it stands and the number of the list of holds; one statement when nothing changed."""
    ((revision, number),) = fetch_rows(NUMBER, {})
    return current(revision), number


_kept: tuple[int, tuple[Held, ...]] = (-1, ())


def in_force(number: int) -> tuple[Held, ...]:
    """What persons have laid and nobody has ended, the newest first; read anew only when the list's number moved on."""
    global _kept  # noqa: PLW0603 - one list per process, replaced whole
    if _kept[0] != number:
        _kept = number, tuple(_in_force()) if number else ()
    return _kept[1]


def _in_force() -> list[Held]:
    every = [Held(*row) for row in fetch_rows(IN_FORCE, {})]
    every += [
        Held(rule_of(one.number), one.record, "scope", " ".join(one.words), "scope", one.why, one.person, one.laid)
        for one in live_scopes()
    ]
    return sorted(every, key=lambda held: held.record, reverse=True)


def forget() -> None:
    """Drop what is kept: for tests that change the database under it."""
    global _kept  # noqa: PLW0603
    _kept = (-1, ())


def keep_heard(screen: Screen) -> None:
    """A screen has said which list it has."""
    values = {name: getattr(screen, name) for name in Screen.__slots__}
    with prepared_cursor() as cursor:
        cursor.execute(HEARD, values)


def screens(now: datetime) -> list[Screen]:
    """Every screen that was used lately, the last used first."""
    return [Screen(*row) for row in fetch_rows(SCREENS, {"since": now - FORGOTTEN_AFTER})]


def reads() -> list[Read]:
    """Who said that they have read the list, and which."""
    return [Read(*row) for row in fetch_rows(READ, {})]


def phone(plant: Directory, roles: Iterable[str] = ("quality", "deputy", "lead")) -> str:
    """Whom to phone about holds: the first of these roles for which the plant says a number, with it; "" where none."""
    numbers = plant.setting("phones", {})
    role = next((role for role in roles if numbers.get(role)), "")
    return f"{role_words(role)}, {numbers[role]}" if role else ""


def list_facts(
    listed: int, listed_at: str, under_way: datetime | None, now: datetime, plant: Directory
) -> Mapping[str, object]:
    """How old the list of holds is by which something leaves: that of the page it was sent from, and no younger than
    the oldest hold whose hulls are still being found (`under_way`). A command that no page sent is judged by the
    records alone."""
    spreading = max(now - under_way, timedelta()) if under_way else timedelta()
    shown = _age(listed_at, now)
    most = timedelta(minutes=int(plant.setting("hold list minutes", OLDEST_MINUTES)))
    old = shown is None or max(spreading, shown) > most
    slow = spreading > (shown if shown is not None else timedelta.max)
    return {
        "old": old,
        "age": "of an unknown age" if shown is None else f"{minutes(max(spreading, shown))} old",
        "number": "unknown" if shown is None else str(listed),
        "most": f"{minutes(most)}",
        "why_old": SLOW if slow else SHOWN,
        "phone": phone(plant) or "the quality manager, else the shift lead (the plant has set no number)",
    }


def _age(listed_at: str, now: datetime) -> timedelta | None:
    if not listed_at:
        return timedelta()
    try:
        return max(now - datetime.fromisoformat(listed_at), timedelta())
    except (ValueError, TypeError):
        return None


def minutes(age: timedelta) -> str:
    """A span as people say it, in whole minutes."""
    count = int(age.total_seconds() // 60)
    return f"{count} min" if count < 120 else f"{count // 60} h"
