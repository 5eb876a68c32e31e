"""Text is taken in UTF-8 only: any other name is kept from Django, and plant/middleware.py refuses the request.

Imports nothing of Django's that needs the apps: plant/wsgi.py reads it before they are loaded.
"""

from collections.abc import Iterable
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from django.utils.http import parse_header_parameters

# ASCII is a part of UTF-8.
TAKEN = {"utf-8", "utf8", "us-ascii"}
# A name that is no codec, so that Django passes over it.
OTHER = "other"


def only_utf8(application: WSGIApplication) -> WSGIApplication:
    """Keep the name of any other character set from Django, which decodes by it before the first middleware.

    Python takes some names for codecs that are no text, and reading the request would fail.
    """

    def respond(head: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        kind, words = parse_header_parameters(head.get("CONTENT_TYPE", ""))
        if words.get("charset", "utf-8").lower() not in TAKEN:
            head["CONTENT_TYPE"] = f"{kind}; charset={OTHER}"
        return application(head, start_response)

    return respond
