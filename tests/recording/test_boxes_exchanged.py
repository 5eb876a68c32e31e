"""An insert box exchanged without a scan, from the records: named at the next load, silent once it is put right."""

from datetime import timedelta

from django.utils import timezone

from tests.cast import LEAD, STORES, WO_RED, Cast, rows_of
from trace.quality.unlike import found
from trace.quality.unlike.found import EXCHANGED, finds
from trace.recording.acts.corrections import Correct
from trace.recording.acts.loading import PlaceInserts, ReadyMould
from trace.recording.acts.packing import Rack


def lately(cast: Cast) -> None:
    """What is compared are the last days' records."""
    cast.clock.now = timezone.now() - timedelta(hours=2)


def placed(cast: Cast, mould: str, box: str) -> str:
    """Inserts of a load at arm S1 from this box; the uid of their event."""
    cast.scan(ReadyMould(mould=mould, order=WO_RED, arm="S1"))
    cast.scan(PlaceInserts(mould=mould, box=cast[box]))
    return str(rows_of("SELECT uid::text FROM event WHERE kind = 'inserts_placed' ORDER BY id DESC LIMIT 1")[0][0])


def exchanged() -> list[tuple[str, str, int]]:
    found.forget()
    return [(one.said["part"], one.said["arm"], one.said["left"]) for one in finds() if one.kind == EXCHANGED]


def test_it_is_named_at_the_next_load_until_the_load_before_is_put_right(cast: Cast) -> None:
    lately(cast)
    first = placed(cast, "T430-01", "m8")
    assert exchanged() == []
    left = rows_of(
        """SELECT s.balance FROM label l JOIN carrier_state c ON c.carrier = l.carrier
             JOIN unit_state s ON s.unit = c.content WHERE l.code = %s""",
        cast["m8"],
    )  # fmt: skip
    placed(cast, "T430-02", "m8b")
    assert exchanged() == [("M8-N", "S1", left[0][0])]
    cast.scan(Correct(event=first, was=cast["m8"], now=cast["m8b"], reason="exchanged before"), person=LEAD)
    assert exchanged() == []


def test_a_box_put_away_first_is_none(cast: Cast) -> None:
    lately(cast)
    placed(cast, "T430-01", "m8")
    cast.scan(Rack(place="BAY-C3", units=(cast["m8"],)), person=STORES)
    placed(cast, "T430-02", "m8b")
    assert exchanged() == []
