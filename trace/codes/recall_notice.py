"""What a product safety recall notice must say, and the words that may not stand in it. Plain Python.

The elements are those of Regulation (EU) 2023/988, Art. 36(2): headline; product with picture, name, brand, numbers and
where they stand on it, where and when it was sold; hazard; what to do, stop use at once; remedies; whom to ask free of
charge; sharing. Remedies are those of Art. 37: at least two of repair, replacement and refund to choose from, or one
with the reason why (Art. 37 from memory). Whether that law applies to a product is for counsel; a notice of this
plant says them all.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

HEADLINE = "Product safety recall"
# The fields of a notice in the order in which it reads; all must be filled in but the last two.
FIELDS = (
    "headline", "product", "brand", "picture", "numbers", "on_product", "sold", "hazard", "action", "remedy", "contact",
    "share", "only_one", "language",
)  # fmt: skip
NEEDED = FIELDS[:-2]
REMEDIES = ("repair", "replacement", "refund")
# Words by which a risk is played down. The first seven are named by Art. 36(2)(c); the others do the same (common
# practice, no source).
PLAYS_DOWN = {
    "voluntary": r"voluntar(?:y|ily)",
    "precautionary": r"precaution(?:ary|s)?",
    "discretionary": r"discretion(?:ary)?",
    "in rare situations": r"in (?:very |extremely )?rare (?:situation|case|circumstance|instance)s?|rarely",
    "in specific situations": r"in (?:very )?(?:specific|certain|special) (?:situation|case|circumstance)s?",
    "no reported accidents": r"no (?:\w+ )?(?:accident|incident|injur(?:y|ie)|complaint)s?\b[^.]{0,40}",
    "not been reported": r"(?:accident|incident|injur(?:y|ie)|complaint)s? (?:have|has) not been reported",
    "abundance of caution": r"abundance of caution",
    "isolated cases": r"(?:in )?isolated (?:case|incident|instance)s?",
    "highly unlikely": r"(?:very|highly|extremely|most) unlikely|remote (?:chance|possibility)",
    "goodwill": r"good ?will",
}
_DOWN = {name: re.compile(rf"\b(?:{pattern})\b", re.IGNORECASE) for name, pattern in PLAYS_DOWN.items()}
_STOP = re.compile(r"\b(?:stop|cease)\b.{0,40}\bus(?:e|ing)\b|\b(?:do not|don't|must not) use\b", re.I | re.S)
_AT_ONCE = re.compile(r"\b(?:immediately|at once|straight ?away|right away|now)\b", re.IGNORECASE)

What = Literal["missing", "headline", "plays down", "stop use", "at once", "remedies", "which remedy"]


@dataclass(frozen=True, slots=True)
class NoticeFault:
    """One thing that is wrong with a notice: the field, what it is, and the words found (or that are missing)."""

    field: str
    what: What
    words: str = ""


def notice_faults(notice: Mapping[str, str], remedies: tuple[str, ...]) -> list[NoticeFault]:
    """All that is wrong with a notice, in the order of its fields. `remedies`: those that are offered.

    What is written in another language than English is looked through for what is missing only.
    """
    texts = (*_missing(notice), *_headline(notice), *_played_down(notice), *_action(notice))
    return [*texts, *_remedies(notice, remedies)]


def _said(notice: Mapping[str, str], field: str) -> str:
    return " ".join(notice.get(field, "").split())


def _in_english(notice: Mapping[str, str]) -> bool:
    return _said(notice, "language").lower() in ("", "en", "english")


def _missing(notice: Mapping[str, str]) -> Iterator[NoticeFault]:
    for field in NEEDED:
        if not _said(notice, field):
            yield NoticeFault(field, "missing")


def _headline(notice: Mapping[str, str]) -> Iterator[NoticeFault]:
    said = _said(notice, "headline")
    if said and _in_english(notice) and said.lower() != HEADLINE.lower():
        yield NoticeFault("headline", "headline", said)


def _played_down(notice: Mapping[str, str]) -> Iterator[NoticeFault]:
    for field in FIELDS:
        for pattern in _DOWN.values():
            for found in pattern.finditer(_said(notice, field)):
                yield NoticeFault(field, "plays down", found[0])


def _action(notice: Mapping[str, str]) -> Iterator[NoticeFault]:
    said = _said(notice, "action")
    if not said or not _in_english(notice):
        return
    if not _STOP.search(said):
        yield NoticeFault("action", "stop use")
    elif not _AT_ONCE.search(said):
        yield NoticeFault("action", "at once")


def _remedies(notice: Mapping[str, str], remedies: tuple[str, ...]) -> Iterator[NoticeFault]:
    strange = [word for word in remedies if word not in REMEDIES]
    for word in strange:
        yield NoticeFault("remedy", "which remedy", word)
    offered = {word for word in remedies if word in REMEDIES}
    if not offered or (len(offered) == 1 and not _said(notice, "only_one")):
        yield NoticeFault("remedy", "remedies", ", ".join(sorted(offered)))
