"""check_records finds whatever was slipped in, changed or taken away past the door, and nothing where nothing was."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from tests.below import below_the_door, erase
from tests.cast import QUALITY, Cast, again, gone_on, plate, rows_of
from tests.databases import Database, rolled_back
from trace.models import RecordCheck
from trace.readmodels import checking, derived, records
from trace.recording.acts.holds import Hold
from trace.recording.acts.vessels import TopUp

LEAST = "(SELECT min(id) FROM {})"
OLD = LEAST.format("event")
# What a login that could insert would try: rows beside the bytes of an old event.
SLIPPED = {
    "edge": """INSERT INTO edge (child, parent, event, n, role)
               SELECT max(child), min(parent), min(event), 99, 'draw' FROM edge""",
    "edge_void": f"INSERT INTO edge_void (edge, event) SELECT min(id), {OLD} FROM edge",
    "unit": f"""INSERT INTO unit (uid, kind, about, event) VALUES (gen_random_uuid(), 'lot', '{{}}', {OLD})""",
    "hold": f"INSERT INTO hold (uid, event, unit, rule) SELECT gen_random_uuid(), {OLD}, min(id), 'x' FROM unit",
    "hold_release": f"INSERT INTO hold_release (hold, unit, event) SELECT min(id), NULL, {OLD} FROM hold",
    "revision": f"""INSERT INTO revision (thing, version, body, valid_from, event)
                    SELECT min(thing), 99, '{{}}', '2019-01-01Z', {OLD} FROM revision""",
    "resource": f"INSERT INTO resource (uid, kind, key, event) VALUES (gen_random_uuid(), 'mould', 'M-0', {OLD})",
    "carrier": f"INSERT INTO carrier (uid, kind, event) VALUES (gen_random_uuid(), 'tub', {OLD})",
    "label": f"INSERT INTO label (code, unit, event) SELECT 'ZZZZZZZZ', min(id), {OLD} FROM unit",
    "serial": f"""INSERT INTO serial (text, plate, format, product, event)
                  SELECT 'X-1', max(id), 'plant', 'T430', {OLD} FROM unit WHERE kind = 'lot'""",
    "difference": f"""INSERT INTO difference (event, unit, amount, uom, cause)
                      SELECT {OLD}, min(id), 5, 'mg', '' FROM unit""",
    "event_unit": f"INSERT INTO event_unit (event, unit, role) SELECT {OLD}, min(id), 'inspected' FROM unit",
    "event_resource": f"INSERT INTO event_resource (event, resource, role) SELECT {OLD}, max(id), 'x' FROM resource",
    "cycle": f"INSERT INTO cycle (uid, number, event) VALUES (gen_random_uuid(), '1', {OLD})",
    "cook": f"""INSERT INTO cook (cycle, unit, position, event)
                SELECT min(id), {LEAST.format("unit")}, 'S9', {OLD} FROM cycle""",
    "scan": f"""INSERT INTO scan (device, client_id, mode, raw, fingerprint, taken, skew_ms, received, outcome, answer,
                  event) VALUES ('d', gen_random_uuid(), 'asks', '', '', now(), 0, now(), 'accepted', '{{}}', {OLD})""",
    "blob": "INSERT INTO blob (sha256, size, type) VALUES (repeat('a', 64), 1, 'image/png')",
    "note": "INSERT INTO note (digest, salt, text) VALUES (repeat('b', 64), repeat('5a', 16), 'never said')",
}  # fmt: skip
# Rows that were changed or taken away: what only a superuser does, with the guards asleep.
CHANGED = {
    "event": f"UPDATE event SET person = 'P-99' WHERE id = {OLD}",
    "edge": "UPDATE edge SET amount = amount + 1 WHERE id = (SELECT min(id) FROM edge WHERE amount > 0)",
    "unit": f"UPDATE unit SET about = about || '{{\"colour\": \"teal\"}}' WHERE id = {LEAST.format('unit')}",
    "revision": f"UPDATE revision SET body = '{{}}' WHERE id = {LEAST.format('revision')}",
    "label": """UPDATE label SET carrier = NULL, resource = NULL, unit = (SELECT min(id) FROM unit)
                 WHERE code = (SELECT min(code) FROM label)""",
    "hold": f"UPDATE hold SET rule = 'none' WHERE id = {LEAST.format('hold')}",
    "note": "UPDATE note SET text = 'something else' WHERE digest = (SELECT min(digest) FROM note)",
    "event_unit": "DELETE FROM event_unit WHERE role = 'held'",
    "cycle": f"UPDATE cycle SET number = '7' WHERE id = {LEAST.format('cycle')}",
}  # fmt: skip


@pytest.fixture(scope="module")
def held_plant(
    told_once: tuple[Database, Cast], shared_database: Database, django_db_blocker: DjangoDbBlocker
) -> Iterator[tuple[Database, Cast]]:
    """The cast has made a hull, whose powder is held."""

    def more(cast: Cast) -> None:
        cast.hull(plate(1))
        cast.scan(Hold(code=cast["red"], rule="quality", reason="density query"), person=QUALITY)

    with gone_on(told_once, shared_database, django_db_blocker, more) as told:
        yield told


@pytest.fixture
def plant(
    held_plant: tuple[Database, Cast], shared_database: Database, django_db_blocker: DjangoDbBlocker
) -> Iterator[Cast]:
    with rolled_back(held_plant[0], shared_database, django_db_blocker):
        yield again(held_plant[1])


def found() -> list[str]:
    check = checking.check_all()
    assert check.differences == len(check.found)
    return list(check.found)


def test_nothing_is_found_where_nothing_was_done(plant: Cast) -> None:
    erase("density query")
    assert found() == []
    check = checking.last_ended()
    assert check is not None
    assert check.events == rows_of("SELECT count(*) FROM event")[0][0]
    assert checking.sentence(check).startswith("Every row is what the records say")


@pytest.mark.parametrize("table", SLIPPED)
def test_a_row_slipped_in_is_named(plant: Cast, table: str) -> None:
    with below_the_door() as owner:
        owner.execute(SLIPPED[table])
    said = found()
    assert any(line.startswith((f"{table}: extra", f"{table}: changed", f"{table}: wrong")) for line in said), said
    if table in ("edge", "edge_void", "hold", "hold_release"):
        # What it does to the holds in force shows too.
        assert len(said) >= 1
    assert checking.sentence(checking.last_ended() or RecordCheck()).endswith("looks after the server.")


def test_an_attack_that_kept_every_count_is_named(plant: Cast) -> None:
    """One edge withdrawn and one added beside an old event, and the hold's row deleted: nothing else noticed it."""
    with below_the_door() as owner:
        owner.execute(
            """INSERT INTO edge_void (edge, event) SELECT max(e.id), max(e.event) FROM edge e
                 JOIN unit u ON u.id = e.child WHERE e.role = 'draw'"""
        )
        owner.execute(SLIPPED["edge"])
    rows_of("DELETE FROM unit_hold WHERE unit = (SELECT max(unit) FROM unit_hold) RETURNING 1")
    tables = {line.split(":")[0] for line in found()}
    assert {"edge_void", "edge"} <= tables


def test_a_hold_taken_off_a_unit_is_named(plant: Cast) -> None:
    """The app may write this read model, so it is looked at with the records."""
    ((unit, uid),) = rows_of(
        """DELETE FROM unit_hold h USING unit u WHERE u.id = h.unit AND h.unit = (SELECT max(unit) FROM unit_hold)
           RETURNING h.unit, u.uid::text"""
    )
    ((line,),) = ((line,) for line in found())
    assert line.startswith("unit_hold: missing")
    assert uid in line
    assert unit


def test_words_that_no_event_erased_are_named(plant: Cast) -> None:
    with below_the_door() as owner:
        connection.check_constraints()
        owner.execute("ALTER TABLE note DISABLE TRIGGER USER")
        owner.execute("UPDATE note SET text = NULL WHERE digest = (SELECT min(digest) FROM note)")
    ((digest,),) = rows_of("SELECT min(digest) FROM note")
    assert found() == [f"note: wrong, {digest} was emptied by no event that says so"]


@pytest.mark.parametrize("table", CHANGED)
def test_a_row_changed_or_taken_away_is_named(plant: Cast, table: str) -> None:
    with below_the_door() as owner:
        # In the test's own transaction: the guards are back when it is rolled back.
        connection.check_constraints()
        owner.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        owner.execute(CHANGED[table])
    said = found()
    assert any(line.startswith((f"{table}: changed", f"{table}: missing", f"{table}: extra")) for line in said), said


@pytest.mark.parametrize(
    "spoil",
    [
        "replace(body, '{\"corrects\":null', '{\"corrects\":null,\"corrects\":null')",
        "body || ' '",
        "replace(body, '\"ver\":1', '\"ver\":99')",
        "replace(body, '\"kind\"', '\"sort\"')",
    ],
)
def test_bytes_of_another_form_are_named(plant: Cast, spoil: str) -> None:
    with below_the_door() as owner:
        connection.check_constraints()
        owner.execute("ALTER TABLE event DISABLE TRIGGER USER")
        owner.execute(f"UPDATE event SET body = {spoil} WHERE id = (SELECT max(id) FROM event)")
    assert any(line.startswith("event: wrong") for line in found())


def test_bytes_in_the_one_form_are_that_whatever_stands_in_them() -> None:
    """RFC 8785, 3.2.3: keys go by UTF-16 units, which is another order than Python's where a key is beyond the first
    plane."""
    said = {"\ufb33": 1, "\U0001f600": 2}
    body = '{"\U0001f600":2,"\ufb33":1}'
    assert derived.is_canonical(body, said)
    assert not derived.is_canonical(body.replace(",", ", "), said)


def test_a_seal_over_other_leaves_and_one_with_a_hole_are_named(plant: Cast) -> None:
    (one, first), (two, second), (other, _) = rows_of("SELECT id, leaf FROM event ORDER BY id LIMIT 3")
    # RFC 9162, 2.1.1: the root of two leaves is the hash of a one and of both their hashes.
    root = hashlib.sha256(b"\x01" + bytes(first) + bytes(second)).digest()
    with below_the_door() as owner:
        owner.execute("INSERT INTO leaf (epoch, n, event) VALUES (1, 0, %s), (1, 1, %s)", [one, two])
        owner.execute("INSERT INTO head (epoch, size, root, note) VALUES (1, 2, %s, '')", [root])
        connection.check_constraints()
        assert found() == []
        owner.execute("ALTER TABLE leaf DISABLE TRIGGER USER")
        owner.execute("UPDATE leaf SET event = %s WHERE n = 1", [other])
        assert [line for line in found() if line.startswith("head: wrong")] != []
        owner.execute("DELETE FROM leaf WHERE n = 1")
        assert [line for line in found() if line.startswith("leaf: missing")] != []


def test_it_goes_on_slice_by_slice_and_leaves_what_came_later(plant: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(records, "SLICE", 7)
    monkeypatch.setattr(checking, "check_slice", lambda after, upto: records.check_slice(after, upto, 7))
    check = checking.begin()
    assert checking.go_on(seconds=0)
    check.refresh_from_db()
    assert (check.at, check.ended) == (0, None)
    plant.scan(TopUp(source=plant["natural"], into=plant["vessels"][0], amount="20"))
    while checking.go_on(seconds=0.05):
        pass
    check.refresh_from_db()
    assert check.ended is not None
    assert (check.differences, check.events) == (0, rows_of("SELECT count(*) - 1 FROM event")[0][0])


def test_it_is_due_daily_and_after_a_restore(plant: Cast) -> None:
    assert checking.is_due()
    check = checking.check_all()
    assert not checking.is_due()
    with below_the_door() as owner:
        owner.execute("ALTER TABLE record_check DISABLE TRIGGER USER")
        RecordCheck.objects.filter(id=check.id).update(ended=timezone.now() - timedelta(hours=25))
        assert checking.is_due()
        RecordCheck.objects.filter(id=check.id).update(ended=timezone.now(), place="another database")
        assert checking.is_due()
        owner.execute("ALTER TABLE record_check ENABLE ALWAYS TRIGGER goes_forward")
    checking.begin()
    # One that is under way is gone on with, not begun again.
    assert not checking.is_due()


BACKWARD = {
    "an ended one forgets": ("UPDATE record_check SET differences = 0, found = '[]' WHERE id = {ended}", "stays"),
    "an ended one is younger": ("UPDATE record_check SET ended = now() + interval '9 d' WHERE id = {ended}", "stays"),
    "an ended one goes on": ("UPDATE record_check SET ended = NULL WHERE id = {ended}", "stays as it is"),
    "one under way forgets": ("UPDATE record_check SET differences = 0 WHERE id = {open}", "only goes forward"),
    "one under way goes back": ("UPDATE record_check SET at = 0 WHERE id = {open}", "only goes forward"),
    "one under way ends early": ("UPDATE record_check SET ended = now() WHERE id = {open}", "only goes forward"),
    "one under way was elsewhere": ("UPDATE record_check SET place = 'x' WHERE id = {open}", "only goes forward"),
    "one has ended at its beginning": (
        "INSERT INTO record_check (place, began, ended, at, upto, events, differences, found)"
        " SELECT place, began, now(), 0, upto, 0, 0, '[]' FROM record_check WHERE id = {ended}", "nothing looked at",
    ),
    "one is taken away": ("DELETE FROM record_check WHERE id = {ended}", "permission denied"),
}  # fmt: skip


@pytest.mark.parametrize("what", BACKWARD)
def test_the_apps_login_takes_back_nothing_that_was_found(plant: Cast, what: str) -> None:
    with below_the_door() as owner:
        owner.execute("INSERT INTO blob (sha256, size, type) VALUES (repeat('a', 64), 1, 'image/png')")
    ended, under_way = checking.check_all(), checking.begin()
    RecordCheck.objects.filter(id=under_way.id).update(at=5, events=5, differences=1, found=["one"])
    sql, said = BACKWARD[what]
    with pytest.raises(DatabaseError, match=said), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql.format(ended=ended.id, open=under_way.id))
    for check, differences in ((ended, 1), (under_way, 1)):
        check.refresh_from_db()
        assert (check.differences, len(check.found)) == (differences, differences)


def test_the_worker_does_not_go_on_with_a_check_that_a_command_has_in_hand(
    fresh_database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both of them at one check would count it twice, and the slower could not keep what it found."""
    worker: list[tuple[int, ...]] = []
    true = records.check_slice

    def beside(after: int, upto: int) -> object:
        with fresh_database.connect("app") as other:
            worker.extend(other.execute("SELECT id FROM record_check WHERE ended IS NULL").fetchall())
        return true(after, upto)

    monkeypatch.setattr(checking, "check_slice", beside)
    assert checking.check_all().ended is not None
    assert worker == []
    assert not checking.go_on(seconds=0.1)


def test_a_check_is_dated_by_the_database(plant: Cast) -> None:
    early = timezone.now() - timedelta(days=9)
    check = RecordCheck.objects.create(place="x", began=early, upto=0)
    check.ended = early
    check.save()
    check.refresh_from_db()
    assert early < check.began <= (check.ended or early)


def test_every_table_of_the_truth_is_looked_at() -> None:
    from trace.migrations._guards import TRUTH

    apart = {"scan", "scan_conflict", "blob", "leaf", "head"}
    assert set(records.STORED) == set(derived.KEYS) == set(TRUTH) - apart


def test_the_command(fresh_database: Database) -> None:
    fine = fresh_database.run("check_records", "--json")
    said = json.loads(fine.stdout)
    assert (said["differences"], said["found"]) == (0, [])
    with below_the_door() as owner:
        owner.execute(SLIPPED["blob"])
    wrong = fresh_database.run("check_records", check=False)
    assert wrong.returncode == 1
    assert "1 row is not what the records say." in wrong.stdout
    assert "blob: extra, aaaa" in wrong.stdout
