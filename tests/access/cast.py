"""The cast of the access tests: one person a role, each with badge, PIN and password, and three hulls.

Everything is told through record(), but for the labels of the hulls and a badge that was replaced.
"""

from dataclasses import dataclass
from typing import Any

from django.test import Client

from plant.credentials import set_password, set_pin
from plant.models import Account, Person
from tests.below import below_the_door
from trace.codes import issue_label_code
from trace.models import Hold, Label, LabelState, Serial, SerialState, UnitHold
from trace.recording.acts.holds import Hold as HoldCommand
from trace.recording.acts.holds import ReleaseHold
from trace.recording.acts.opening import OldHull
from trace.recording.acts.setup import Define
from trace.recording.commands import By, Command
from trace.recording.record import record

NAMES = {
    "operator": ("ORRELL", "Ines Orrell"),
    "stores": ("QUILL", "Mabs Quill"),
    "warehouse": ("BLEWITT", "Jonty Blewitt"),
    "lead": ("LUND", "Sunniva Lund"),
    "quality": ("ASHDOWN", "Priya Ashdown"),
    "deputy": ("VARGA", "Teo Varga"),
    "auditor": ("BROOK", "Hanne Brook"),
    "planner": ("HARTNELL", "Dov Hartnell"),
    "maintenance": ("STAVE", "Edda Stave"),
    "administrator": ("HALE", "Corin Hale"),
}
PIN = "402917"
PASSWORD = "lantern over slow water"


@dataclass(frozen=True, slots=True)
class Member:
    """One person of the cast: `badge` is the label code on the badge."""

    key: str
    name: str
    badge: str
    pin: str = PIN
    password: str = PASSWORD


def enter(key: str, name: str, **body: Any) -> Member:
    """A person comes into the plant: recorded with a badge; PIN and password are set beside the records."""
    _record(Define(kind="person", key=key, name=name, body=body))
    person = Person.objects.get(key=key)
    badge = Label.objects.get(resource=person.resource).code
    set_pin(person, PIN)
    set_password(person, PASSWORD)
    return Member(key, name, badge)


def whole_cast() -> dict[str, Member]:
    """Everybody, by role."""
    return {role: enter(key, name, roles=[role]) for role, (key, name) in NAMES.items()}


def change(member: Member, **body: Any) -> None:
    """The plant data about a person changes."""
    known = Person.objects.get(key=member.key).body
    _record(Define(kind="person", key=member.key, body={**known, **body}))


def leave(member: Member) -> None:
    """The person leaves the plant."""
    change(member, ended=True)


def replace_badge(member: Member) -> None:
    """The badge's label no longer counts; another took its place."""
    LabelState.objects.create(code=member.badge)


def lock_account(member: Member) -> None:
    Account.objects.filter(person=member.key).update(is_active=False)


def sign_on(client: Client, member: Member, **more: Any) -> Any:
    """Badge and PIN at the floor's sign-in page."""
    return client.post("/sign-in/", {"badge": member.badge, "pin": member.pin, **more})


def sign_on_at_desk(client: Client, member: Member, **more: Any) -> Any:
    """Name and password at the desk's sign-in page."""
    return client.post("/sign-in/desk/", {"name": member.key, "password": member.password, **more})


@dataclass(frozen=True, slots=True)
class Hull:
    serial: str
    hull_code: str
    plate_code: str
    unit: int


def a_hull(number: int) -> Hull:
    """A hull, with a label on itself and one on its plate."""
    serial = f"GHM-T430-{number:05d}"
    numbering = {"format": "plant", "prefix": "GHM-T430-"}
    body = {"name": "Tamsin 430", "area_m2": f"5.{number}", "layers": [], "hull_number": numbering}
    _record(Define(kind="product", key="T430", body=body))
    _record(OldHull(serial=serial, product="T430", colour="red"))
    plate = Serial.objects.get(text=serial).plate
    hull = SerialState.objects.get(text=serial).hull
    assert hull is not None
    codes = [issue_label_code(500_000 + 2 * number + side) for side in (0, 1)]
    for code, unit in zip(codes, (hull, plate.pk), strict=True):
        with below_the_door() as owner:
            owner.execute("INSERT INTO label (code, unit, event) VALUES (%s, %s, %s)", [code, unit, plate.event_id])
    return Hull(serial, codes[0], codes[1], hull)


def a_hold(hull: Hull, rule: str) -> None:
    """A hold on the hull; rule 'stop-use' is the notice that strangers are shown."""
    _record(HoldCommand(code=hull.serial, rule=rule, reason="cracks at the seat"))


def end_holds(hull: Hull) -> None:
    """Somebody else than the one who laid them ends the holds on the hull."""
    for one in UnitHold.objects.filter(unit=hull.unit):
        uid = str(Hold.objects.get(pk=one.hold).uid)
        _record(ReleaseHold(hold=uid, reason="looked at and sound"), person="ANOTHER")


def _record(command: Command, person: str = "HALE") -> None:
    answer = record(command, By(person=person))
    assert answer.outcome in {"accepted", "warned"}, answer
