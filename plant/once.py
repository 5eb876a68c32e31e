"""The tag {% once "name" … %}: a part of a page that follows from what it is given is rendered once by a process."""

from collections.abc import Hashable
from functools import lru_cache

from django.template import Library
from django.template.loader import get_template
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

# Parts kept, of about a thousand characters each; what was not shown for longest goes first.
KEPT = 2000

register = Library()


@register.simple_tag
def once(name: str, **given: Hashable) -> SafeString:
    """The template of that name with what it is given, and nothing else of the page: it may ask for no variable besides
    but the language. What is given says by equality whether it is the same, so it never changes (a frozen dataclass, a
    tuple, a text that is not yet escaped). A form with a token does not stand in it."""
    return _rendered(name, get_language(), tuple(given.items()))


@lru_cache(maxsize=KEPT)
def _rendered(name: str, _language: str | None, given: tuple[tuple[str, Hashable], ...]) -> SafeString:
    return mark_safe(get_template(name).render(dict(given)))  # noqa: S308 - a template of ours, escaped as it was rendered
