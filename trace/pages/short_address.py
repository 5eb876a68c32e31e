"""The address printed in a label, /S/<CODE>: the record for those signed in, one plain page for strangers."""

from django.db import connection
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.address import address_of
from plant.errors import NotThere, TooMany
from plant.models import Setting
from plant.sign_on import current
from plant.visits import visit
from trace.codes import CodeError, parse_label_code
from trace.genealogy.live import hull_of_plate
from trace.pages.lists import ShortAddressPage

VISITS_A_MINUTE = 30

# The hull a label leads to, by the hull's own label or its plate's, and the day of an active stop-use notice.
# One statement for every code, known or not, so that the time taken says nothing either.
HULL = f"""
WITH hull AS (
  SELECT u.id FROM label l JOIN unit u ON u.id = l.unit WHERE l.code = %(code)s AND u.kind = 'hull'
  UNION SELECT {hull_of_plate('s', 'st')} FROM label l JOIN serial s ON s.plate = l.unit
         JOIN serial_state st ON st.text = s.text WHERE l.code = %(code)s
)
SELECT (SELECT st.text FROM hull JOIN serial_state st ON st.hull = hull.id LIMIT 1),
       (SELECT max(e.happened) FROM hull JOIN unit_hold uh ON uh.unit = hull.id
          JOIN hold h ON h.id = uh.hold JOIN event e ON e.id = h.event WHERE h.rule = 'stop-use')
"""


def short_address(request: HttpRequest, code: str) -> HttpResponse:
    """Context: short (trace.pages.lists.ShortAddressPage). Raises NotThere for a malformed code, TooMany."""
    signed_in = current(request) is not None
    if not signed_in and visit(address_of(request)) > VISITS_A_MINUTE:
        raise TooMany
    try:
        label = parse_label_code(code).code
    except CodeError:
        raise NotThere from None
    with connection.cursor() as cursor:
        cursor.execute(HULL, {"code": label})
        serial, notice_since = cursor.fetchone()
    if signed_in:
        to = reverse("hull", args=[serial]) if serial else reverse("lot", args=[label])
        return HttpResponseRedirect(to)
    page = ShortAddressPage(
        plant=_setting("plant-name", _("a plant that moulds hulls")),
        contact=_setting("plant-contact", _("Ask the dealer you have it from.")),
        notice_title=_("Stop using this hull") if notice_since else "",
        notice=_notice() if notice_since else "",
        notice_date=timezone.localdate(notice_since) if notice_since else None,
        sign_in_url=reverse("sign_in"),
    )
    response = render(request, "pages/short_address.html", {"short": page})
    response["Referrer-Policy"] = "no-referrer"
    return response


def _notice() -> str:
    return _setting(
        "stop-use-notice",
        _("The maker has issued a stop-use notice that covers this hull. Do not use it, and get in touch."),
    )


def _setting(key: str, otherwise: str) -> str:
    body = Setting.objects.filter(key=key, ended=False).values_list("body", flat=True).first()
    return str((body or {}).get("value", otherwise))
