"""The tag {% asks cause words %}: what a page says of a thing, as the way to the hulls that share it."""

from typing import Any

from django.template import Library
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from trace.pages.asked import as_known_on
from trace.sheets.addresses import scope_url

register = Library()


@register.simple_tag(takes_context=True)
def asks(context: dict[str, Any], cause: str, words: object) -> SafeString:
    """The words as a link to the scope of this cause, as known on the day that the page is asked for; the words alone
    where there is no cause, or for those who may not ask."""
    request = context.get("request")
    url = scope_url(request, [cause], as_known_on(request)) if cause and request is not None else ""
    if not url:
        return format_html("{}", words)
    said = _(": hulls that share it")
    return format_html('<a class="asks" href="{}">{}<span class="unseen">{}</span></a>', url, words, said)
