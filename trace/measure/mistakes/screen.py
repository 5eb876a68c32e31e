"""A screen of the floor without JavaScript: one person signed on, codes scanned into a station's form."""

from dataclasses import dataclass, field
from datetime import UTC, datetime
from html.parser import HTMLParser

from django.contrib.auth.hashers import make_password
from django.test import Client

from plant.models import Account
from trace.demo.plant import PEOPLE
from trace.models import Label
from trace.scan.cautions import SESSION, name_of
from trace.scan.stations import STATIONS

PINS = {key: pin for key, _name, _roles, _tasks, pin in PEOPLE}


class _Reader(HTMLParser):
    """What the station's form would send as it stands, and what the verdict says."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.form = self.select = self.outcome = self.verdict = ""
        self.values: dict[str, str] = {}
        self.in_verdict = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.form = a.get("id", "")
        if "data-outcome" in a:
            self.outcome = a["data-outcome"]
        if "verdict-words" in a.get("class", "").split():
            self.in_verdict = True
        if (a.get("form") or self.form) != "ask":
            return
        if tag == "input" and (a.get("type") not in ("radio", "checkbox", "file") or "checked" in a):
            self.values[a.get("name", "")] = a.get("value", "")
        elif tag == "select":
            self.select = a.get("name", "")
        elif tag == "option" and ("selected" in a or self.select not in self.values):
            self.values[self.select] = a.get("value", "")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = ""
        if tag in ("div", "p", "section"):
            self.in_verdict = False

    def handle_data(self, data: str) -> None:
        if self.in_verdict and len(self.verdict) < 80:
            self.verdict = f"{self.verdict} {data}".strip()


def let_in(key: str) -> None:
    """This person can sign on at a screen."""
    Account.objects.get_or_create(person=key, defaults={"password": "", "pin": make_password(PINS[key])})


@dataclass
class Screen:
    """One screen. `sent` counts what its person scanned, typed or pressed."""

    person: str
    client: Client = field(default_factory=lambda: Client(SERVER_NAME="localhost"))
    slug: str = ""
    status: int = 0
    sent: int = 0
    page: _Reader = field(default_factory=_Reader)

    def open(self, slug: str) -> "Screen":
        if not self.slug:
            let_in(self.person)
            badge = Label.objects.get(resource__kind="person", resource__key=self.person).code
            self.client.post("/sign-in/", {"badge": badge, "pin": PINS[self.person]})
            self._read_cautions()
        self.slug = slug
        self._shown(self.client.get(f"/scan/{slug}/"))
        return self

    def scan(self, code: str) -> str:
        """A code scanned; the outcome said."""
        return self.press("send", code=code)

    def press(self, button: str, **filled: str) -> str:
        """The form sent with a button and what was filled in; the outcome said ("" where nothing was recorded)."""
        self.sent += 1
        values = {**self.page.values, **filled, "do": button}
        self._shown(self.client.post(f"/scan/{self.slug}/", values))
        return self.page.outcome

    def _shown(self, response: object) -> None:
        self.status = response.status_code  # type: ignore[attr-defined]
        self.page = _Reader()
        self.page.feed(response.content.decode())  # type: ignore[attr-defined]

    def _read_cautions(self) -> None:
        """As if this person had read every caution there is."""
        session = self.client.session
        names = [name_of(str(place.caution)) for place in STATIONS.values() if place.caution]
        people = session["screen"]["people"]
        whose = [f"{one['person']} {datetime.fromtimestamp(one['since'], UTC).timestamp()}" for one in people]
        session[SESSION] = dict.fromkeys(whose, names)
        session.save()


def code_of(kind: str, key: str) -> str:
    """The code on the label of a thing of the plant."""
    return str(Label.objects.filter(resource__kind=kind, resource__key=key).latest("event").code)
