"""The page of the records' last check: when it was, one plain sentence, and each row that was found."""

from collections.abc import Callable

import pytest
from django.test import Client

from tests.below import below_the_door
from tests.pages.story import Told
from trace.readmodels import checking


def shown(client: Client) -> str:
    answer = client.get("/records/")
    assert answer.status_code == 200
    return answer.content.decode()


def test_it_tells_the_last_check_and_what_it_found(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    assert "Nothing was looked at yet." in shown(client)
    checking.check_all()
    assert "Every row is what the records say" in shown(client)
    with below_the_door() as owner:
        owner.execute("INSERT INTO blob (sha256, size, type) VALUES (repeat('a', 64), 1, 'image/png')")
    # What a check has not looked at is not told.
    assert "Every row is what the records say" in shown(client)
    checking.check_all()
    text = shown(client)
    assert "1 row is not what the records say." in text
    assert f"blob: extra, {'a' * 64}" in text
    assert "Looked at last on" in text


@pytest.mark.parametrize(("person", "status"), [("P-06", 200), ("P-09", 200), ("P-01", 403)])
def test_quality_and_the_administrator_read_it(
    story: Told, signed_in: Callable[[str], Client], person: str, status: int
) -> None:
    assert signed_in(person).get("/records/").status_code == status
