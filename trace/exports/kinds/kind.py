"""What a kind of paper is: the words it asks for, and the function that fills it."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

from django.utils.functional import Promise

from trace.exports.asked import Asked
from trace.exports.paper import Paper


@dataclass(frozen=True, slots=True)
class PaperKind:
    """To add one: a file beside this with one of these, and its row in table.py. Pages, files, jobs and the API are read
    off it.

    `prefix` begins its papers' numbers. `asks` names the words of its question, each with what it is; those in
    `may_lack` can be left empty. Who may open the page of the name `page` may ask for it (plant/access.py).
    `has_events`: its paper tells EPCIS events; `has_photos`: pictures go with it. `make` raises PaperError, or
    LookupError of one sentence where nobody knew such a thing then.
    """

    name: str
    prefix: str
    title: str | Promise
    asks: Mapping[str, str | Promise]
    make: Callable[[Asked], Paper]
    page: str
    has_events: bool = False
    has_photos: bool = False
    may_lack: Collection[str] = ()
