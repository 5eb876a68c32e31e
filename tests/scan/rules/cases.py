"""What a rule's test is: a story up to the scan that the rule is about, then the next good one.

A case is a generator. It tells what came before, then yields the scan to be judged and, after it, the scan that
passes; each as a function that gives the page. `rule(code, outcome)` files it under the rule's code.
"""

from collections.abc import Callable, Iterator

from django.db import connection

from tests.scan.browser import Page, Screen
from tests.scan.cast import Plant
from tests.scan.conftest import Opens

Scan = Callable[[], Page]
Story = Callable[[Plant, Opens], Iterator[Scan]]
CASES: list[tuple[str, str, Story]] = []

STATE = """
SELECT md5(concat(
  (SELECT string_agg(s::text, '|' ORDER BY unit) FROM unit_state s),
  (SELECT string_agg(s::text, '|' ORDER BY carrier) FROM carrier_state s),
  (SELECT string_agg(s::text, '|' ORDER BY mould) FROM mould_state s),
  (SELECT string_agg(s::text, '|' ORDER BY text) FROM serial_state s),
  (SELECT string_agg(s::text, '|' ORDER BY unit, hold) FROM unit_hold s),
  (SELECT string_agg(s::text, '|' ORDER BY unit) FROM place_now s),
  (SELECT count(*) FROM event), (SELECT count(*) FROM edge), (SELECT count(*) FROM note WHERE FALSE)))
"""


def rule(code: str, outcome: str = "refused") -> Callable[[Story], Story]:
    """Files a story under a rule and the outcome it must have."""

    def keep(story: Story) -> Story:
        CASES.append((code, outcome, story))
        return story

    return keep


def state() -> str:
    """One word for every balance, status, content, mould, serial, hold and place, and for how much is recorded."""
    with connection.cursor() as cursor:
        cursor.execute(STATE)
        return str(cursor.fetchone()[0])


def newest_scan() -> tuple[str, str]:
    """(outcome, reason) of the scan recorded last."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT outcome, COALESCE(reason, '') FROM scan ORDER BY id DESC LIMIT 1")
        row = cursor.fetchone()
        return row[0], row[1]


def scans(screen: Screen, *codes: str) -> Page:
    """Codes one after the other; the last page."""
    for code in codes:
        screen.scan(code)
    assert screen.page is not None
    return screen.page


def refused_with(page: Page, words: str) -> Page:
    assert words in page.verdict, page.verdict
    return page
