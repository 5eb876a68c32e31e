"""The address a request comes from: that of the connection, or what the plant's own proxy says of it."""

from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest


def address_of(request: HttpRequest) -> str:
    """As text; "" over a unix socket. Headers are believed only where the connection comes from a TRUSTED_PROXY, and
    then only what that proxy itself added: the last address in X-Forwarded-For that is not a trusted proxy's.
    """
    address = str(request.META.get("REMOTE_ADDR", ""))
    if not _trusted(address):
        return address
    for text in reversed(request.headers.get("X-Forwarded-For", "").split(",")):
        hop = text.strip()
        if not _trusted(hop):
            return hop if _is_address(hop) else address
    return address


def _trusted(text: str) -> bool:
    return _is_address(text) and any(ip_address(text) in network for network in settings.TRUSTED_PROXY)


def _is_address(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True
