"""Reads what a station's form sent: nothing in it is trusted, nothing of it is lost, and nothing makes it fail."""

import json
import re
from dataclasses import dataclass, field
from datetime import datetime
from typing import BinaryIO, cast
from uuid import UUID, uuid5

from django.http import HttpRequest, QueryDict
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.sign_on import device_of
from trace.codes import storable, uuid7
from trace.photos.evidence import is_kept, keep_photo
from trace.photos.photo import PhotoError, decode_photo
from trace.scan.page import SCANS

LONGEST = 5000  # characters of one value
MOST = 120  # values of one form
FIRST_YEAR = 1900  # an earlier one is a slip of the hand, and the first years of the calendar have no four digits
# Names with a meaning of their own; everything else is a slot or a field of the station.
OWN = frozenset(
    {"csrfmiddlewaretoken", "scan_id", "code", "photo", "do", "tell", "override", "reason", "reason_words",
     "badge", "rule", "passed", "slot", "typed", "asked", "early"}
)  # fmt: skip
EVIDENCE = "photo_evidence"  # the one picture of a scan; once stored it comes back in the form by its name
NAME = re.compile(r"[a-z][A-Za-z0-9_ .-]{0,60}")


@dataclass
class Posted:
    """One form. `passed` are the rules overridden already with their reasons; `troubles` are sentences by field."""

    scan_id: UUID
    code: str = ""
    do: str = ""
    asked: str = ""  # the field that the page asked for
    early: bool = False  # what was refused was still being put together
    fact: bool = False
    overrides: bool = False
    rule: str = ""
    reason: str = ""
    badge: str = ""
    slot: str = ""  # where the code that was judged had its place
    typed: str = ""
    passed: dict[str, str] = field(default_factory=dict)
    held: dict[str, str] = field(default_factory=dict)
    trouble: str = ""  # about the photo of a code
    troubles: dict[str, str] = field(default_factory=dict)


def clean(text: str) -> str:
    """A value as it can be stored and shown; the marks that stand for names in sentences become plain brackets."""
    return storable(text, LONGEST).replace("⟦", "[").replace("⟧", "]")


def held_in(sent: QueryDict, device: str = "") -> dict[str, str]:
    """Slots and fields by name: the last value of each, blank ones left out. device: whose pictures may be named."""
    held = {}
    for name in list(sent)[:MOST]:
        if name not in OWN and NAME.fullmatch(name):
            value = clean(sent.get(name, ""))
            if value.strip() and (name != EVIDENCE or is_kept(value, device)):
                held[name] = value
    return held


def read(request: HttpRequest) -> Posted:
    """The form of one request; a scan id that is none is replaced by a new one."""
    sent = request.POST
    posted = Posted(
        scan_id=_scan_id(sent.get("scan_id", "")),
        code=clean(sent.get("code", "")).strip(),
        do=clean(sent.get("do", ""))[:60],
        asked=clean(sent.get("asked", ""))[:60],
        early=sent.get("early") == "yes",
        fact=sent.get("tell") == "fact",
        overrides=sent.get("override") == "yes",
        rule=clean(sent.get("rule", ""))[:40],
        reason=_reason(clean(sent.get("reason", "")), clean(sent.get("reason_words", ""))),
        badge=clean(sent.get("badge", "")).strip(),
        slot=clean(sent.get("slot", ""))[:60],
        typed=clean(sent.get("typed", "")),
        passed=_passed(sent.get("passed", "")),
        held=held_in(sent, device_of(request).id),
    )
    if posted.do.startswith(SCANS):
        posted.code, posted.do = posted.do.removeprefix(SCANS).strip(), "send"
    # One picture a scan; whatever else is sent is not looked at.
    if "photo" in request.FILES:
        _read_code_photo(posted, cast(BinaryIO, request.FILES["photo"]))
    elif EVIDENCE in request.FILES:
        _keep_evidence(posted, cast(BinaryIO, request.FILES[EVIDENCE]), device_of(request).id)
    return posted


def _read_code_photo(posted: Posted, file: BinaryIO) -> None:
    try:
        texts = decode_photo(file)
    except PhotoError as error:
        posted.trouble = str(error)
        return
    if len(texts) == 1:
        posted.code = clean(texts[0]).strip()
    elif texts:
        posted.trouble = _(
            "The photo shows %(n)d codes: take it closer, so that only one is in it, or type the code."
        ) % {"n": len(texts)}
    else:
        posted.trouble = _(
            "No code was found in the photo: take it closer, with the label flat and in the light, or type the code."
        )


def _keep_evidence(posted: Posted, file: BinaryIO, device: str) -> None:
    try:
        posted.held[EVIDENCE] = keep_photo(file, device)
    except PhotoError as error:
        posted.troubles[EVIDENCE] = str(error)


def _scan_id(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        return uuid7()


def _reason(short: str, words: str) -> str:
    return ": ".join(part for part in (short.strip()[:80], words.strip()[:300]) if part)


def _passed(text: str) -> dict[str, str]:
    """Rules overridden on the way, as carried: {rule: reason}. Roles are judged anew by record()."""
    try:
        pairs = json.loads(text) if text else {}
    except (ValueError, RecursionError):  # the second for brackets nested without end
        return {}
    if not isinstance(pairs, dict):
        return {}
    return {clean(str(k))[:40]: clean(str(v))[:400] for k, v in list(pairs.items())[:10]}


def after(scan_id: UUID, step: str) -> UUID:
    """The id of what follows from a scan (its override, the second mould of an arm): the same each time."""
    return uuid5(scan_id, step)


def part(scan_id: UUID, n: int) -> UUID:
    """The id under which the n-th record of one scan is kept."""
    return after(scan_id, f"part {n}") if n else scan_id


def moment_of(text: str) -> datetime | None:
    """A time typed as 2026-04-30 14:05 in the plant's own time; None when it is none, or before FIRST_YEAR."""
    try:
        typed = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    try:
        # Turned into the plant's time, so that the first and the last day of the calendar fail here if at all.
        there = timezone.make_aware(typed) if timezone.is_naive(typed) else timezone.localtime(typed)
    except (ValueError, OverflowError):
        return None
    return there if there.year >= FIRST_YEAR else None
