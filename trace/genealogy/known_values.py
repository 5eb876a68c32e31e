"""What the plant and the records know under each word of a cause: a name that neither knows is refused, never answered
with “cannot”, and what they know is what a page offers.
"""

import json
from collections.abc import Collection, Iterator, Mapping
from datetime import datetime
from difflib import SequenceMatcher
from typing import Any, NoReturn

from django.utils.translation import gettext as _

from trace.codes import printable
from trace.codes.region import lies_in, region_code
from trace.genealogy.cause_words import WORDS, Certified, Charged, Fact, Figure, Owned, Thing, Word
from trace.genealogy.causes import LONGEST, CauseError, Holds, Made, Simple, Supplied, With, Within
from trace.genealogy.figures import readings
from trace.genealogy.find import find_unit
from trace.genealogy.owners import USES, owners
from trace.genealogy.plant_days import plant_days
from trace.genealogy.prepared import fetch_rows

# A refusal names so many of what is known, the nearest to what was typed.
MOST_NAMED = 12
BODIES = """
SELECT r.key, v.body FROM revision v JOIN resource r ON r.id = v.thing WHERE r.kind = %(kind)s::text
ORDER BY r.key, v.version
"""
KEYS = "SELECT r.key FROM resource r WHERE r.kind = %(kind)s::text"
WAS_IN_ROLE = """
SELECT 1 WHERE EXISTS (
  SELECT 1 FROM event_resource x JOIN resource r ON r.id = x.resource
  WHERE r.kind = %(kind)s::text AND r.key = %(key)s::text AND x.role = ANY (%(roles)s::text[]))
"""
# Where a recipe or a mould says what there can be; of another fact the records alone do.
OF_PLANT = {"colour": "colours", "cavity": "cavities"}
MADE_AS = "SELECT DISTINCT u.about->>'{}' FROM unit u WHERE u.kind = 'hull'"
RECIPES = "SELECT DISTINCT u.about->>'product', u.about->>'recipe' FROM unit u WHERE u.kind = 'hull'"
# The lots of release agents, as a load names the coat that it is moulded on.
COATS = """
SELECT u.about->>'material', u.lot_no FROM unit u
WHERE u.kind = 'lot' AND u.lot_no IS NOT NULL AND u.about->>'material' = ANY (%(agents)s::text[])
"""
LAYERS = "SELECT DISTINCT e.layer FROM edge e WHERE e.layer IS NOT NULL"
PARTS = f"{LAYERS} UNION SELECT DISTINCT e.position FROM edge e WHERE e.position IS NOT NULL"
OF_LOTS = "SELECT DISTINCT u.about->>'supplier' FROM unit u WHERE u.kind = 'lot'"


def must_be_known(cause: Simple, as_known_on: datetime | None = None) -> None:
    """Raises CauseError, or a LookupError of find_unit, each of one sentence, where nothing knows what is named."""
    match cause:
        case Holds(code, part):
            find_unit(code, as_known_on)
            if part and part not in _parts_of_plant():
                _refuse_unless(part in (all_parts := _parts()), _("layer, position or zone"), part, all_parts)
        case Supplied(supplier):
            if supplier not in things("supplier"):
                _refuse_unless(supplier in (known := values("supplier") or {}), "supplier", supplier, known)
        case With(word, key):
            _named(WORDS[word], word, key)
        case Within(word, of) if of:
            if of not in colon_of_plant(word):
                _refuse_unless(of in (all_of := after_colon(word)), str(WORDS[word].more), of, all_of)
        case Within() | Made():
            pass


def _named(word: Word, name: str, key: str) -> None:
    if isinstance(word, Fact) and len(key.split("/", len(word.of) - 1)) < len(word.of):
        raise CauseError(_("“%(key)s” is too little: write it as T430/3.") % {"key": printable(key)})
    if isinstance(word, Owned):
        _of_owner(name, key)
        return
    kind = word.kind if isinstance(word, Thing | Fact) else ""
    if kind and len(getattr(word, "of", ())) < 2:
        known = things(kind)
        # What is known otherwise is looked for only where it has to be named.
        if key not in known:
            _refuse(_spoken(name), key, values(name) or known)
        if isinstance(word, Thing):
            _must_have_been(word, name, key)
        return
    plant = _of_plant(name)
    if key not in plant:
        _refuse_unless(key in (all_known := values(name) or {}), _spoken(name), key, all_known)


def _of_owner(name: str, key: str) -> None:
    if name == "use":
        _refuse_unless(key in USES, _spoken(name), key, USES)
        return
    region = region_code(key)
    if region is None:
        raise CauseError(_("“%(key)s” is no region: write it as GB or GB-SCT.") % {"key": printable(key)[:LONGEST]})
    known = values(name) or {}
    # While nobody is registered all that left may be there. One of whom only the country is known may be in any part.
    near = not known or any(lies_in(one, region) is not False for one in known)
    _refuse_unless(near, _spoken(name), key, known)


def _must_have_been(word: Thing, name: str, key: str) -> None:
    """An oven is no arm: what is of another kind, and never was one, is not known under this word either."""
    body = things(word.kind)[key]
    if not word.roles or body.get("kind") in (None, *word.roles):
        return
    asked = {"kind": word.kind, "key": key, "roles": list(word.roles)}
    if not fetch_rows(WAS_IN_ROLE, asked):
        _refuse(_spoken(name), key, values(name) or {})


def _refuse_unless(there: object, word: str, key: str, known: Collection[str]) -> None:
    if not there:
        _refuse(word, key, known)


def _refuse(word: str, key: str, known: Collection[str]) -> NoReturn:
    said = {"word": word, "key": printable(key)[:LONGEST], "known": _listed(key, known)}
    sentence = _("No %(word)s %(key)s is known. Known: %(known)s.") if known else _("No %(word)s %(key)s is known.")
    raise CauseError(sentence % said)


def _listed(key: str, known: Collection[str]) -> str:
    names = sorted(str(one) for one in known if one)
    if len(names) <= MOST_NAMED:
        return ", ".join(names)
    near = sorted(names, key=lambda one: -SequenceMatcher(None, key.lower(), one.lower()).ratio())[:MOST_NAMED]
    return _("%(names)s and %(more)d more") % {"names": ", ".join(near), "more": len(names) - MOST_NAMED}


def _spoken(name: str) -> str:
    return name.replace("-", " ")


def values(name: str) -> Mapping[str, str] | None:
    """What can stand after a word, each with the name of the thing (“” where it has no other); None for what is a code,
    a day or a figure."""
    word = WORDS[name]
    if name == "supplier":
        return {**dict.fromkeys(_said(fetch_rows(OF_LOTS, {})), ""), **_names(things("supplier"))}
    if isinstance(word, Thing):
        found = things(word.kind)
        fitting = {key: body for key, body in found.items() if body.get("kind") in (None, *word.roles)}
        return _names(fitting if word.roles else found)
    if isinstance(word, Owned):
        return dict(USES) if name == "use" else dict.fromkeys(sorted(_regions()), "")
    if isinstance(word, Fact):
        return _facts(name, word)
    return dict.fromkeys(sorted(_of_plant(name)), "") if name == "shift" else None


def _facts(name: str, word: Fact) -> Mapping[str, str]:
    if word.kind and len(word.of) == 1:
        return _names(things(word.kind))
    made = [_recipe(*row) for row in fetch_rows(RECIPES, {})] if len(word.of) > 1 else _recorded(word.of[0])
    return dict.fromkeys(sorted({*_of_plant(name), *(one for one in made if one)}), "")


def after_colon(name: str) -> list[str]:
    """What can be named after the colon of a word: a layer, a stage, a zone, a value of certificates."""
    word = WORDS[name]
    plant = colon_of_plant(name)
    if isinstance(word, Charged):
        return sorted({*plant, *_said(fetch_rows(LAYERS, {}))})
    if isinstance(word, Certified):
        return sorted(plant | {what for one in readings(("certified",)) for what, _zone, _uom, _value in one.values})
    if isinstance(word, Figure) and word.zone:
        return sorted(plant | {zone for one in readings(word.kinds) for _what, zone, _uom, _v in one.values if zone})
    if isinstance(word, Figure) and word.quantity is None:
        read = readings(word.kinds)
        return sorted(plant | {what for one in read for what, _z, uom, _v in one.values if uom == word.uom})
    return []


def colon_of_plant(name: str) -> set[str]:
    """The same as far as the plant data say it, which costs no look at what was read."""
    word = WORDS[name]
    if isinstance(word, Charged):
        return _layers_of_plant()
    if isinstance(word, Certified):
        return {str(one) for body in things("material").values() for one in body.get("spec") or ()}
    if isinstance(word, Figure) and word.zone:
        return {str(one) for body in _products() for one in body.get("zones") or ()}
    return _stages_of_plant() if isinstance(word, Figure) else set()


def _stages_of_plant() -> set[str]:
    cooks = [body.get("cook") or {} for body in _products()]
    return {str(one) for cook in cooks for one in (*cook.get("stages", ()), *cook.get("cooling", ()))}


def things(kind: str) -> Mapping[str, Mapping[str, Any]]:
    """The newest body of every thing of this kind that the plant has or had, by key."""
    newest: dict[str, Mapping[str, Any]] = {key: {} for (key,) in fetch_rows(KEYS, {"kind": kind})}
    newest.update((key, json.loads(text)) for key, text in fetch_rows(BODIES, {"kind": kind}))
    return newest


def _names(found: Mapping[str, Mapping[str, Any]]) -> dict[str, str]:
    return {key: str(body.get("name") or "") for key, body in sorted(found.items())}


def _of_plant(name: str) -> set[str]:
    """What the plant, without the hulls, knows of a fact by which they are made."""
    if name == "recipe":
        return {f"{key}/{n}" for key, n in _versions()}
    if name == "shift":
        return plant_days().names()
    if name == "coat":
        agents = [key for key, body in things("material").items() if body.get("kind") == "release agent"]
        return {f"{material} lot {number}" for material, number in fetch_rows(COATS, {"agents": agents})}
    field = OF_PLANT.get(name, "")
    bodies = [*_products(), *things("mould").values()] if field else []
    return {str(one) for body in bodies for one in body.get(field) or ()}


def _versions() -> Iterator[tuple[str, int]]:
    counted: dict[str, int] = {}
    for key, _text in fetch_rows(BODIES, {"kind": "product"}):
        counted[key] = counted.get(key, 0) + 1
        yield key, counted[key]


def _products() -> list[Mapping[str, Any]]:
    """Every revision of every product: an old recipe's layers are still those of its hulls."""
    return [json.loads(text) for _key, text in fetch_rows(BODIES, {"kind": "product"})]


def _layers_of_plant() -> set[str]:
    return {str(layer["name"]) for body in _products() for layer in body.get("layers") or ()}


def _parts_of_plant() -> set[str]:
    fields = ("inserts", "graphics", "zones")
    return _layers_of_plant() | {name for body in _products() for field in fields for name in body.get(field) or {}}


def _parts() -> list[str]:
    return sorted({*_parts_of_plant(), *_said(fetch_rows(PARTS, {}))})


def parts() -> list[str]:
    """The layers, positions and zones of the plant's recipes, in which something may be held."""
    return sorted(_parts_of_plant())


def _recorded(name: str) -> list[str]:
    return _said(fetch_rows(MADE_AS.format(name), {}))


def _recipe(product: str | None, revision: object) -> str:
    return f"{product}/{revision}" if product and revision is not None else ""


def _regions() -> set[str]:
    return {owner.region for told in owners().values() for owner in told if owner.region}


def _said(rows: Collection[tuple[Any, ...]]) -> list[str]:
    return [str(one) for (one,) in rows if one]
