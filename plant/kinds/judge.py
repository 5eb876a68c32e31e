"""Says all that is wrong with a thing of the plant at once: its own shape, what it refers to, its neighbours."""

from collections.abc import Iterator

from django.utils.translation import gettext as _

from plant.kinds.faults import Body, Fault, Faults, Named, Others
from plant.kinds.kind import Kind
from plant.kinds.table import BY_NAME


def faults(kind: str, key: str, body: Body, others: Others) -> list[Fault]:
    """Every fault of a body that is to be kept as this thing; [] when it can be.

    A thing that is ended may refer to what is gone by now: it must always be possible to end one.
    """
    declared = BY_NAME[kind]
    found = list(declared.shape.faults("", body))
    if not body.get("ended"):
        found += _references(declared, key, body, others)
        found += declared.across(key, body, others)
    return list(dict.fromkeys(found))


def _references(kind: Kind, key: str, body: Body, others: Others) -> Faults:
    known = others.get(kind.name, key)
    before = {(n.kind, n.key) for n in _names(kind, known.body)} if known else set()
    for named in _names(kind, body):
        if (named.kind, named.key) != (kind.name, key):
            yield from _leads_nowhere(named, others, before)


def _names(kind: Kind, body: Body) -> Iterator[Named]:
    return kind.shape.names("", body, body)


def _leads_nowhere(named: Named, others: Others, before: set[tuple[str, str]]) -> Faults:
    other = others.get(named.kind, named.key)
    target = BY_NAME[named.kind]
    words = {"field": named.where, "key": named.key[:60], "one": target.one, "title": target.title}
    if other is None:
        yield Fault(
            named.where,
            _("“%(field)s” names %(key)s, and there is no %(one)s %(key)s.") % words,
            _("Whoever works by it would stand before nothing."),
            _("Correct it, or enter %(key)s under %(title)s first.") % words,
        )
    elif other.ended and (named.kind, named.key) not in before:
        yield Fault(
            named.where, _("“%(field)s” names %(key)s, which is no longer used.") % words,
            _("It was ended; its history stays."), _("Choose one that is in use, or take it up again first."),
        )  # fmt: skip
    for field, values in named.only.items() if other else ():
        if other.body.get(field) not in values:
            wanted = _(" or ").join(values)
            yield Fault(
                named.where,
                _("“%(field)s” names %(key)s, and that is no %(wanted)s.") % {**words, "wanted": wanted},
                _("Its %(field)s is %(value)s.") % {"field": field, "value": other.body.get(field)},
                _("Choose a %(wanted)s, or correct %(key)s first.") % {**words, "wanted": wanted},
            )
