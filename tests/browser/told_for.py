"""The story of the desk's pages, told for those who sign on in a browser."""

from collections.abc import Iterator
from contextlib import contextmanager

from plant.credentials import set_password
from plant.models import Person
from tests.pages.story import Told, told
from trace.readmodels import plantdata

PASSWORD = "lantern over slow water"


@contextmanager
def told_for(*people: str) -> Iterator[Told]:
    """The story, told in the database that Django is pointed at, with a password for each of these people."""
    plantdata.forget()
    history = told()
    for key in people:
        set_password(Person.objects.get(key=key), PASSWORD)
    yield history
    plantdata.forget()
