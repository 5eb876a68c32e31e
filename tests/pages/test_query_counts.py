"""How many statements each desk page sends, as data under review: query_counts.json beside this file.

Written anew by: WRITE_QUERY_COUNTS=1 pytest tests/pages/test_query_counts.py (then read what changed). The numbers
hold for the told story; that they do not grow with it is tested in test_hull_sheet.py and below.
"""

import json
import os
from collections.abc import Callable
from pathlib import Path

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.pages.story import Told

FILE = Path(__file__).with_name("query_counts.json")
# Of these every page has as many: the session, the person and the account of who is signed on.
ADDRESSES: dict[str, str] = {
    "home": "/",
    "home of quality": "/?of=quality",
    "hull": "/hull/{hull}/",
    "hull with a missing layer": "/hull/{gap}/",
    "hull as known on a day": "/hull/{hull}/?as_known_on=2026-04-20",
    "lot": "/lot/{box}/",
    "lot by its number": "/lot/N-0417/",
    "balance": "/balance/D-77/",
    "balance of a works order": "/balance/WO-1041/",
    "balance of plant days": "/balance/?first=2026-01-01",
    "dispersion": "/dispersion/",
    "dispersion of a lot": "/dispersion/D-77/",
    "dispersion of a hull": "/dispersion/{hull}/",
    "plan": "/plan/",
    "pack": "/unit/{pack}/",
    "mould": "/unit/T430-01/",
    "arm": "/unit/S1/",
    "oven": "/unit/OVEN-2/",
    "scale": "/unit/W-3/",
    "person": "/unit/P-01/",
    "works order": "/unit/WO-1041/",
    "place": "/unit/R4-2/",
    "logger": "/unit/LG-1/",
    "compare": "/compare/?a={hull}&b={gap}",
    "search for half a plate": "/search/?q=0044",
    "search by what it looks like": "/search/?model=T430&colour=red&month=2026-04",
    "rules": "/rules/",
    "records": "/records/",
    "holds in force": "/open/holds/",
    "what needs a look": "/open/questions/",
    "lots awaiting release": "/open/lots/",
    "hulls to inspect": "/open/inspections/",
    "inspections recorded": "/open/inspected/",
    "changed late": "/open/late/",
    "saved scopes": "/open/scopes/?of=quality",
    "saved scopes put aside": "/open/scopes-aside/?of=quality",
    "suspected swaps": "/plates/suspected/?of=quality",
    "list of suspected swaps": "/open/swaps/",
    "list of what is unlike the rest": "/open/unlike/",
    "setup list": "/setup/mould/",
    "setup thing": "/setup/mould/?key=T430-01",
    "setup people": "/setup/person/",
    "api genealogy back": "/api/genealogy/back/{hull}/",
    "api genealogy forward": "/api/genealogy/forward/N-0417/",
    "api rules": "/api/rules/",
}


def counted(client: Client, address: str) -> int:
    client.get(address)  # what a process reads once (plant data, compiled rules) is read before
    with CaptureQueriesContext(connection) as asked:
        answer = client.get(address)
    assert answer.status_code == 200, address
    return sum(1 for q in asked if not str(q["sql"]).startswith(("SAVEPOINT", "RELEASE")))


def test_every_page_sends_as_many_statements_as_reviewed(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-09")
    quality = signed_in("P-06")  # some lists are not the administrator's
    parts = {
        "hull": story.hulls["held"], "gap": story.hulls["no foam"], "box": story.plant.boxes["red"][0],
        "pack": story.packs["sleds"],
    }  # fmt: skip
    counts = {
        name: counted(quality if "/open/" in address or "quality" in address else client, address.format(**parts))
        for name, address in ADDRESSES.items()
    }
    if os.environ.get("WRITE_QUERY_COUNTS"):
        FILE.write_text(json.dumps(counts, indent=1) + "\n", encoding="utf-8")
    assert counts == json.loads(FILE.read_text(encoding="utf-8"))


def test_a_lot_that_went_into_more_hulls_asks_no_more(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    before = counted(client, "/lot/V-2288/")
    story.plant.go_on()
    story.plant.kayak(bag=6)
    assert counted(client, "/lot/V-2288/") == before
