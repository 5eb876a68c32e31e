"""Names and free words in answers: put in when shown, gone when erased, and few statements for many."""

from django.db import connection
from django.test.utils import CaptureQueriesContext

from plant.models import Person
from tests.below import erase
from tests.scan.cast import Plant
from trace.models import Event, Note
from trace.recording.acts.holds import Hold
from trace.speech import names_of, speak, spoken


def test_names_and_words_stand_where_their_tokens_were(plant: Plant) -> None:
    plant.shift.scan(Hold(code=plant["red"], reason="density query"), person="P-06")
    why = Event.objects.latest("id").why
    sentence = f"Lot V-2288 is ON HOLD (⟦note:{why}⟧, ⟦person:P-06⟧, 14:10)."
    assert speak(sentence) == "Lot V-2288 is ON HOLD (density query, Priya Ashdown, 14:10)."
    assert speak("⟦person:NOBODY⟧ and ⟦note:0000⟧ and ⟦else:x⟧") == "NOBODY and [erased] and ⟦else:x⟧"
    assert speak("no token") == "no token"


def test_an_erased_name_leaves_the_key_and_an_erased_note_says_so(plant: Plant) -> None:
    plant.shift.scan(Hold(code=plant["red"], reason="density query"), person="P-06")
    event = Event.objects.latest("id")
    for digest in (event.why, Person.objects.get(key="P-06").body["name"]):
        erase(Note.objects.get(digest=digest).text or "")
    assert speak(f"⟦note:{event.why}⟧, ⟦person:P-06⟧") == "[erased], P-06"


def test_two_statements_for_any_number_of_tokens(plant: Plant) -> None:
    digests = Note.objects.values_list("digest", flat=True)[:10]
    texts = [f"⟦person:P-{n:02d}⟧" for n in range(1, 11)] + [f"⟦note:{digest}⟧" for digest in digests]
    with CaptureQueriesContext(connection) as asked:
        said = spoken(texts)
    assert len(asked) == 2
    assert "Ines Orrell" in said
    with CaptureQueriesContext(connection) as asked:
        assert spoken(["nothing to say"]) == ["nothing to say"]
        assert names_of([]) == {}
    assert len(asked) == 0
