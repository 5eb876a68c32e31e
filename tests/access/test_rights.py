"""The table of rights itself: what must hold whatever rows are added to it."""

import re
from datetime import UTC, datetime

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import path

from plant import access
from plant.access import EVERYBODY, RIGHTS, PerPart, Right, counts_at, day_badge_tasks, decide
from plant.roles import ROLES
from tests.access import cast, stand_in
from tests.access.cast import Member

# What people in a moulding plant may do, as the plant wrote it down; kept apart from the table on purpose.
STATIONS = {
    "goods-in": "stores lead",
    "release": "quality deputy",
    "certificate": "quality deputy stores",
    "weigh": "operator lead",
    "load": "operator lead",
    "oven": "operator lead",
    "demould": "operator lead",
    "check-weight": "operator lead",
    "plates": "operator lead stores",
    "inspect": "lead quality deputy",
    "pack": "warehouse lead",
    "rack": "warehouse lead",
    "dispatch": "warehouse lead",
    "top-up": "operator stores lead",
    "count": "stores lead quality deputy",
    "tub": "operator lead",
    "scrap": "operator stores lead quality deputy",
    "give-back": "stores lead quality deputy",
    "sample": "stores lead quality deputy",
    "hold": "quality deputy lead",
    "release-hold": "quality deputy",
    "correct": "quality deputy lead",
    "badges": "lead",
}


def rows() -> list[tuple[str, Right]]:
    return [
        (name, right)
        for name, row in RIGHTS.items()
        for right in (row.each.values() if isinstance(row, PerPart) else [row])
    ]


def test_stations_are_open_to_the_people_who_work_there() -> None:
    for slug, words in STATIONS.items():
        for method in ("GET", "POST"):
            may = {role for role in ROLES if decide({role}, "station", method, {"slug": slug}) == "yes"}
            assert may == set(words.split()), (slug, method)


def test_an_auditor_reads_and_sends_nothing_but_the_sign_on_forms_and_for_papers() -> None:
    """To take a paper is to read: it is sent as a form because it is recorded."""
    posts = {name for name, right in rows() if right.post and "auditor" in right.post}
    assert posts == {"sign_in", "sign_in_desk", "sign_out", "papers", "paper", "api_papers", "api_paper"}
    for name in ("hull", "lot", "search", "compare", "rules", "home"):
        assert decide({"auditor"}, name, "GET") == "yes"


def test_nobody_signed_on_opens_only_the_doors_and_the_label_s_page() -> None:
    opened = {name for name, right in rows() for may in (right.get, right.post) if may and "anonymous" in may}
    # The labels to try are there in a demo only.
    assert opened == {"sign_in", "sign_in_desk", "sign_out", "short_address", "labels_to_try"}


def test_a_person_without_roles_counts_as_nobody() -> None:
    assert decide(set(), "home", "GET") == "no"
    assert decide(set(), "sign_in", "GET") == "yes"


def test_several_roles_add_up() -> None:
    assert decide({"stores", "warehouse"}, "station", "POST", {"slug": "pack"}) == "yes"
    assert decide({"stores", "warehouse"}, "station", "POST", {"slug": "load"}) == "no"


def test_an_unknown_station_is_no_address() -> None:
    assert decide(EVERYBODY, "station", "GET", {"slug": "paint"}) == "no such address"


def test_an_unknown_role_in_the_table_stops_the_start() -> None:
    with pytest.raises(ValueError, match="chief"):
        access._roles("chief")


class ForgottenRow:
    """The site with one address that nobody wrote a row for."""

    @staticmethod
    def page(_request: HttpRequest) -> HttpResponse:
        return HttpResponse("open")

    urlpatterns = [*stand_in.urlpatterns, path("forgotten/", page, name="forgotten")]
    handler404 = stand_in.handler404


def test_an_address_without_a_row_is_refused_to_everybody(
    people: dict[str, Member], settings: object
) -> None:
    settings.ROOT_URLCONF = ForgottenRow  # type: ignore[attr-defined]
    client = Client()
    assert client.get("/forgotten/").status_code == 404
    cast.sign_on(client, people["administrator"])
    assert client.get("/forgotten/").status_code == 404


def test_a_day_badge_carries_no_role_that_decides_over_others() -> None:
    body = {"roles": ["operator", "lead", "quality", "administrator"], "day_badge": True}
    assert access.roles_of(body) == {"operator"}
    assert access.roles_of({"roles": ["operator", "captain"]}) == {"operator"}


def test_a_day_badge_opens_its_tasks_and_no_page_of_the_desk() -> None:
    tasks = day_badge_tasks({"roles": ["operator"], "day_badge": True, "tasks": ["load", "pack"]})
    assert set(tasks or ()) == {"load"}
    for name, row in RIGHTS.items():
        parts = [{row.part: value} for value in row.each] if isinstance(row, PerPart) else [{}]
        for part in parts:
            opens = decide({"operator"}, name, "GET", part, tasks) == "yes"
            assert (
                not opens
                or name in {"home", "sign_in", "sign_in_desk", "short_address", "where"}
                or part == {"slug": "load"}
            )


def test_a_day_badge_without_tasks_opens_the_stations_of_its_roles() -> None:
    tasks = day_badge_tasks({"roles": ["warehouse"], "day_badge": True})
    assert set(tasks or ()) == {"pack", "rewrap", "rack", "dispatch", "labels", "containment", "returns", "stock-count"}
    assert day_badge_tasks({"roles": ["warehouse"]}) is None


@pytest.mark.parametrize(
    ("until", "counts"),
    [
        (None, True),
        ("", True),
        ("2026-11-25T12:00:01+00:00", True),
        ("2026-11-25T12:00:00+00:00", False),
        ("2026-11-25T13:00:01+01:00", True),
        ("2026-11-25T12:00:01", True),  # the plant's time: London in November is UTC
        ("2026-11-25", True),  # a date counts to its end
        ("2026-11-24", False),
        ("soon", False),
    ],
)
def test_until_is_read_strictly(until: str | None, counts: bool) -> None:
    at = datetime(2026, 11, 25, 12, tzinfo=UTC)
    assert counts_at({"until": until}, False, at) is counts
    assert counts_at({"until": until}, True, at) is False


def test_the_page_of_refusal_is_the_same_for_everything_refused(people: dict[str, Member]) -> None:
    client = Client()
    cast.sign_on(client, people["operator"])
    refused = [f"/scan/{slug}/" for slug in ("release", "dispatch", "badges")] + ["/setup/person/"]
    pages = {re.sub(rb'value="\w{64}"', b"", client.get(path).content) for path in refused}
    assert len(pages) == 1  # but for the token of the sign-out form, which differs on each page
