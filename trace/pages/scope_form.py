"""The form that adds one cause to a scope: what can be chosen under each word, and what is asked by it."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.http import HttpRequest, QueryDict
from django.utils.translation import gettext as _

from trace.genealogy.cause_words import FOLLOWS, RANGED, WORDS, Fact, Owned, Thing, Word, names_more
from trace.genealogy.known_values import OF_PLANT, colon_of_plant, parts
from trace.genealogy.owners import USES
from trace.genealogy.plant_days import plant_days
from trace.lookup import plant_now
from trace.readmodels.plantdata import Directory
from trace.speech import spoken

# So many can be chosen from a list; of more one is typed, and the list helps.
MOST_CHOSEN, MOST_HELP = 40, 2000
FIELDS = ("value", "first", "last", "low", "high", "from", "before", "part")
# Any of these says what is asked for; the others say more of it.
NAMING = ("value", "first", "last", "low", "high")


@dataclass(frozen=True, slots=True)
class Choices:
    """What can stand after a word: (key, how it reads) each; `picked` is what was chosen before."""

    name: str
    says: str
    options: tuple[tuple[str, str], ...]
    picked: str

    @property
    def long(self) -> bool:
        """Whether there are too many for a list, so that one is typed with the list beside it."""
        return len(self.options) > MOST_CHOSEN


@dataclass(frozen=True, slots=True)
class ScopeForm:
    """`names`: each word, how it is said, and how it is written; `fits`: by sort of field the words that it fits, with
    blanks between; `typed`: what stood in each field."""

    names: tuple[tuple[str, str, str], ...]
    chosen: str
    join: str
    choices: tuple[Choices, ...]
    more: tuple[Choices, ...]
    fits: Mapping[str, str]
    typed: Mapping[str, str]


def scope_form(request: HttpRequest) -> ScopeForm:
    asked, plant = request.GET, plant_now()
    offered = {name: _offered(name, word, plant) for name, word in WORDS.items()}
    more = {name: colon_of_plant(name) for name in RANGED if names_more(name)} | {"holds": set(parts())}
    return ScopeForm(
        names=tuple((name, str(word.does), str(word.value)) for name, word in WORDS.items()),
        chosen=asked.get("name", "holds"),
        join=asked.get("join", ""),
        choices=tuple(
            Choices(name, str(WORDS[name].does), tuple(options), asked.get(f"pick-{name}", ""))
            for name, options in offered.items() if options
        ),
        more=tuple(_more(name, known, asked.get(f"part-{name}", "")) for name, known in more.items()),
        fits={
            "value": " ".join(name for name in WORDS if name not in RANGED and name != "made" and not offered[name]),
            "days": "made", "range": " ".join(RANGED), "from": "holds", "before": "since-check",
        },
        typed={field: asked.get(field, "") for field in FIELDS},
    )  # fmt: skip


def _more(name: str, known: set[str], picked: str) -> Choices:
    says = _("Layer, position or zone, if it matters") if name == "holds" else str(WORDS[name].more).capitalize()
    return Choices(name, says, tuple((one, one) for one in sorted(known)), picked)


def _offered(name: str, word: Word, plant: Directory) -> list[tuple[str, str]]:
    """The values that the plant knows under a word, the key first, as it stands on labels."""
    if name == "shift":
        return [(one, one) for one in sorted(plant_days().names())]
    if isinstance(word, Owned):
        return [(key, _(said)) for key, said in USES.items()] if name == "use" else []
    if name == "supplier" or isinstance(word, Thing) or (isinstance(word, Fact) and word.kind and len(word.of) == 1):
        return _things(word, plant)
    return _facts(name, word, plant) if isinstance(word, Fact) else []


def _things(word: Word, plant: Directory) -> list[tuple[str, str]]:
    things = plant.of_kind(word.kind if isinstance(word, Thing | Fact) else "supplier")
    roles = word.roles if isinstance(word, Thing) else ()
    keys = [one.key for one in things if not roles or one.body.get("kind") in (None, *roles)][:MOST_HELP]
    if isinstance(word, Thing) and word.kind == "person":
        return list(zip(keys, spoken([f"{key} ⟦person:{key}⟧" for key in keys]), strict=True))
    named = {one.key: str(one.body.get("name") or "") for one in things}
    return [(key, f"{key} {named[key]}".strip()) for key in keys]


def _facts(name: str, word: Fact, plant: Directory) -> list[tuple[str, str]]:
    products = plant.of_kind("product")
    if len(word.of) > 1:
        return [(f"{one.key}/{n}", f"{one.key}/{n}") for one in products for n in range(1, one.version + 1)]
    if name not in OF_PLANT:
        return []
    field = OF_PLANT[name]
    known = {str(value) for one in (*products, *plant.of_kind("mould")) for value in one.body.get(field) or ()}
    return [(one, one) for one in sorted(known)]


def is_typed(asked: QueryDict) -> bool:
    """Whether the form was sent with something in it that belongs to its word."""
    return any(asked.get(field, "").strip() for field in (*NAMING, f"pick-{asked.get('name', 'holds')}"))


def typed_cause(name: str, asked: QueryDict) -> list[str]:
    """The words of one cause out of the form: `part` is what is named more, a layer, a zone, a stage, a value."""
    given = {field: asked.get(field, "").strip() for field in FIELDS}
    part = asked.get(f"part-{name}", "").strip() or given["part"]
    first, last = (given["first"], given["last"]) if name == "made" else (given["low"], given["high"])
    value = asked.get(f"pick-{name}", "").strip() or given["value"] or (f"{first}..{last}" if first or last else "")
    named = f"{name}:{part}" if part and name in WORDS and names_more(name) else name
    follow = {"in": part, "from": given["from"], "before": given["before"]}
    return [f"{named}={value}", *(f"{word}={follow[word]}" for word in FOLLOWS.get(name, ()) if follow[word])]
