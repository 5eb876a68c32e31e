"""The tag {% once "name" %}: a part of a page that says the same on every page, rendered once by a process."""

from functools import cache

from django.template import Library
from django.template.loader import get_template
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language

register = Library()


@register.simple_tag
def once(name: str) -> SafeString:
    """The template of that name, which is given nothing: it may ask for no variable but the language."""
    return _rendered(name, get_language())


@cache
def _rendered(name: str, _language: str | None) -> SafeString:
    return mark_safe(get_template(name).render({}))  # noqa: S308 - a template of ours, escaped as it was rendered
