"""The link to the labels a scan has just made or printed again: signed, so that no other printing goes unrecorded."""

from collections.abc import Sequence
from urllib.parse import urlencode

from django.core import signing
from django.urls import reverse

SALT = "trace.labels"
GOOD_FOR = 3600  # seconds; later a printing is a reprint, and that is recorded


def labels_url(codes: Sequence[str], layout: str) -> str:
    """The address of a PDF with these labels, "" when there are none to print."""
    if not codes or not layout:
        return ""
    text = ",".join(codes)
    return f"{reverse('labels_pdf')}?{urlencode({'codes': text, 'layout': layout, 'key': _key(text)})}"


def _key(codes: str) -> str:
    return signing.dumps(codes, salt=SALT)


def may_print(codes: str, key: str) -> bool:
    """Whether these codes were made or printed again within the last hour."""
    try:
        return bool(signing.loads(key, salt=SALT, max_age=GOOD_FOR) == codes)
    except signing.BadSignature:
        return False
