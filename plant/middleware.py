"""What every request passes: one-sentence errors, the headers of the security policy, and the rights."""

import logging
import re
import sys
from collections.abc import Callable
from http import HTTPStatus
from typing import ClassVar

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.template.loader import render_to_string
from django.urls import Resolver404, resolve, reverse
from django.utils.html import escape

from plant import access, errors, sign_on
from plant.address import address_of
from plant.character_set import OTHER
from plant.start import START

Next = Callable[[HttpRequest], HttpResponse]

rights_log = logging.getLogger("plant.rights")
reads_log = logging.getLogger("plant.reads")
errors_log = logging.getLogger("plant.errors")

CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; "
    "connect-src 'self'; worker-src 'self'; manifest-src 'self'; font-src 'self'; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'; object-src 'none'"
)
# The worker that reads codes from the camera's picture is WebAssembly. What a worker may do is said by the answer that
# its script came in (W3C Content Security Policy Level 3), so no page has to let WebAssembly in.
CAMERA_WORKER = "trace/camera-worker.js"
CAMERA_WORKER_POLICY = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; connect-src 'self'"
# The camera reads codes; every other feature of the W3C Permissions Policy's list is switched off.
FEATURES_OFF = (
    "accelerometer", "ambient-light-sensor", "autoplay", "bluetooth", "browsing-topics", "display-capture",
    "encrypted-media", "fullscreen", "gamepad", "geolocation", "gyroscope", "hid", "idle-detection",
    "local-fonts", "magnetometer", "microphone", "midi", "payment", "picture-in-picture",
    "publickey-credentials-get", "screen-wake-lock", "serial", "storage-access", "usb", "web-share",
    "xr-spatial-tracking",
)  # fmt: skip
PRINTABLE = re.compile(r"[ -~]*")
PERMISSIONS_POLICY = ", ".join(["camera=(self)", *(f"{feature}=()" for feature in FEATURES_OFF)])


class OneSentenceErrors:
    """Turns the errors of plant/errors.py, and bare answers such as Django's 405, into the one error page.

    Anything else that is raised reaches the handlers below by way of plant/urls.py, and the log.
    """

    sync_capable: ClassVar[bool] = True
    async_capable: ClassVar[bool] = False

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if response.status_code < HTTPStatus.BAD_REQUEST or response.streaming or response.content:
            return response
        page = answer(request, errors.error_of_status(response.status_code))
        for name in ("Allow", "Retry-After", "WWW-Authenticate"):
            if name in response:
                page[name] = response[name]
        page.cookies.update(response.cookies)
        return page

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """A foreseen error raised by a view is answered here, without a trace in the log."""
        return answer(request, exception) if isinstance(exception, errors.PlantError) else None


def answer(request: HttpRequest, error: errors.PlantError) -> HttpResponse:
    """The error as a page, or as JSON for other systems; never raises, whatever else is broken."""
    response: HttpResponse
    if _wants_json(request):
        response = JsonResponse(error.said(), status=error.status)
    else:
        response = HttpResponse(_page(request, error), status=error.status)
    if error.retry_seconds:
        response["Retry-After"] = str(error.retry_seconds)
    if error.status == HTTPStatus.UNAUTHORIZED:
        # RFC 9110, 11.6.1 asks for a challenge; signing in is done with a form, which has no registered name.
        response["WWW-Authenticate"] = 'Form realm="Lotwright"'
    return response


def _wants_json(request: HttpRequest) -> bool:
    accept = request.headers.get("Accept", "")
    return request.path.startswith("/api/") or ("application/json" in accept and "text/html" not in accept)


def _page(request: HttpRequest, error: errors.PlantError) -> str:
    try:
        return render_to_string("pages/error.html", {"error": error}, request)
    except Exception:
        errors_log.exception("The page about an error could not be drawn")
        words = " ".join(str(part) for part in (error.what, error.why, error.now) if part)
        return f'<!doctype html><html lang="en"><title>{error.status}</title><p>{escape(words)}</p></html>'


def handle_400(request: HttpRequest, exception: Exception) -> HttpResponse:
    return answer(request, errors.error_from(exception))


def handle_403(request: HttpRequest, exception: Exception) -> HttpResponse:
    return answer(request, errors.error_from(exception))


def handle_404(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001 - the words are always ours
    return answer(request, errors.NotThere())


def handle_500(request: HttpRequest) -> HttpResponse:
    # Django calls this while the exception is being handled, and logs it with its trace.
    return answer(request, errors.error_from(sys.exc_info()[1]))


def policy_headers(get_response: Next) -> Next:
    """Content policy, permissions, and no copy kept of any page that does not say otherwise itself."""

    def respond(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        worker = request.path_info == f"{settings.STATIC_URL}{CAMERA_WORKER}"
        response.setdefault("Content-Security-Policy", CAMERA_WORKER_POLICY if worker else CONTENT_SECURITY_POLICY)
        response.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        response.setdefault("Cache-Control", "no-store")
        return response

    return respond


def once_guarded(get_response: Next) -> Next:
    """Serve nobody before the database was found to guard its records; files that need none are served above this."""

    def respond(request: HttpRequest) -> HttpResponse:
        return get_response(request) if START.may_serve() else answer(request, errors.NotYetGuarded())

    return respond


def readable(get_response: Next) -> Next:
    """Refuse text in another character set, and forget cookies that none of these pages can have set.

    PostgreSQL takes no NUL, and a quoted cookie can hold one.
    """

    def respond(request: HttpRequest) -> HttpResponse:
        if (request.content_params or {}).get("charset") == OTHER:
            return answer(request, errors.OtherCharset())
        request.COOKIES = {name: text for name, text in request.COOKIES.items() if PRINTABLE.fullmatch(text)}
        return get_response(request)

    return respond


def rights(get_response: Next) -> Next:
    """Judge who is signed on, then refuse whatever the table of rights does not allow.

    An address without a row is refused even when its pattern exists, so that a forgotten row opens nothing.
    """

    def respond(request: HttpRequest) -> HttpResponse:
        sign_on.read_screen(request)
        try:
            match = resolve(request.path_info)
        except Resolver404:
            return get_response(request)
        person = sign_on.current(request)
        verdict = access.decide(
            person.roles if person else {access.ANONYMOUS},
            match.view_name,
            request.method or "",
            match.kwargs,
            person.tasks if person else None,
        )
        if verdict == "yes":
            if person and request.method in {"GET", "HEAD"}:
                reads_log.info("read %r person=%r device=%r", request.path, person.person, _device(request))
            return get_response(request)
        rights_log.warning(
            "refused (%s) person=%r device=%r from=%r %s %r",
            verdict, person.person if person else "", _device(request), address_of(request),
            request.method, request.path,
        )  # fmt: skip
        return _refuse(request, verdict, access.right_for(match.view_name, match.kwargs))

    return respond


def _refuse(request: HttpRequest, verdict: access.Answer, right: access.Right | None) -> HttpResponse:
    if verdict == "no such address" or right is None:
        return answer(request, errors.NotThere())
    if verdict == "no such method":
        response = answer(request, errors.NotThatWay())
        response["Allow"] = ", ".join(access.methods_of(right))
        return response
    if sign_on.current(request) is not None:
        return answer(request, errors.NotAllowed())
    if request.method in {"GET", "HEAD"} and not _wants_json(request):
        return HttpResponseRedirect(_sign_in_address(request))
    return answer(request, errors.NotSignedIn())


def _sign_in_address(request: HttpRequest) -> str:
    address = sign_on.sign_in_address(request.get_full_path())
    return settings.LOGIN_URL if request.path == reverse("home") or not address else address


def _device(request: HttpRequest) -> str:
    device = sign_on.device_of(request)
    return "" if device.fresh else device.id
