"""Whatever goes wrong, a person reads one sentence, and the log has the rest."""

import contextlib
import errno
import json
from collections.abc import Callable
from http import HTTPStatus
from typing import Any

import psycopg
import pytest
from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.db import InterfaceError, InternalError, OperationalError, connection, transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed, UnreadablePostError
from django.test import Client
from django.urls import path

from plant import access, errors
from plant.access import ANYONE, Right
from tests.access import stand_in
from tests.databases import Database


def from_database(sqlstate: str) -> OperationalError:
    """An error as Django raises it for one of PostgreSQL's."""
    error = OperationalError("technical words")
    error.__cause__ = psycopg.errors.lookup(sqlstate)("technical words")
    return error


def only_reads() -> InternalError:
    """What a copy raises that has not taken over yet."""
    error = InternalError("technical words")
    error.__cause__ = psycopg.errors.lookup("25006")("technical words")
    return error


# SQLSTATE codes: PostgreSQL manual, appendix A.
CASES: dict[str, tuple[Callable[[], BaseException], int, str]] = {
    "fault": (lambda: ZeroDivisionError("technical words"), 500, "The software failed here."),
    "missing": (lambda: Http404("technical words"), 404, "There is no such page."),
    "denied": (lambda: PermissionDenied("technical words"), 403, "not among the tasks"),
    "odd": (lambda: SuspiciousOperation("technical words"), 400, "cannot be read"),
    "broken-off": (lambda: UnreadablePostError("technical words"), 400, "cannot be read"),
    "locked": (lambda: from_database("55P03"), 503, "Nothing was lost; press again."),
    "deadlock": (lambda: from_database("40P01"), 503, "Nothing was lost; press again."),
    "serial": (lambda: from_database("40001"), 503, "Nothing was lost; press again."),
    "timeout": (lambda: from_database("57014"), 503, "Nothing was lost; press again."),
    "crowded": (lambda: from_database("53300"), 503, "Nothing was lost; press again."),
    "full": (lambda: from_database("53100"), 503, "disk is full"),
    "stopping": (lambda: from_database("57P01"), 503, "The database does not answer"),
    "recovering": (lambda: from_database("57P03"), 503, "The database does not answer"),
    "only-reads": (only_reads, 503, "The database does not answer"),
    "gone": (lambda: OperationalError("technical words"), 503, "The database does not answer"),
    "closed": (lambda: InterfaceError("technical words"), 503, "The database does not answer"),
    "no-space": (lambda: OSError(errno.ENOSPC, "technical words"), 503, "disk is full"),
    "other-file": (lambda: OSError(errno.EACCES, "technical words"), 500, "The software failed here."),
    "own": (errors.TooMany, 429, "Too many requests"),
}


def keeps_no_session(request: HttpRequest) -> HttpResponse:
    """What Django's session middleware raises when the session could not be stored, whatever the reason."""
    request.session["a"] = "b"
    request.session.save()
    with connection.cursor() as cursor:
        if request.GET["how"] == "deleted":
            cursor.execute("DELETE FROM django_session WHERE session_key = %s", [request.session.session_key])
        else:
            with contextlib.suppress(OperationalError):
                cursor.execute("SELECT pg_terminate_backend(pg_backend_pid())")
    return HttpResponse()


def broken(request: HttpRequest, case: str) -> HttpResponse:
    raise CASES[case][0]()


def bare(request: HttpRequest) -> HttpResponse:
    return HttpResponseNotAllowed(["PUT"])


def cut(request: HttpRequest) -> HttpResponse:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_terminate_backend(pg_backend_pid())")
    return HttpResponse()


def waits(request: HttpRequest) -> HttpResponse:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL lock_timeout = '50ms'")
        cursor.execute("LOCK TABLE wrong_pin IN EXCLUSIVE MODE")
    return HttpResponse()


class Broken:
    urlpatterns = [
        *stand_in.urlpatterns,
        path("broken/<slug:case>/", broken, name="broken"),
        path("bare/", bare, name="bare"),
        path("cut/", cut, name="cut"),
        path("waits/", waits, name="waits"),
        path("keeps-no-session/", keeps_no_session, name="keeps-no-session"),
    ]
    handler400, handler403 = stand_in.handler400, stand_in.handler403
    handler404, handler500 = stand_in.handler404, stand_in.handler500


@pytest.fixture(autouse=True)
def broken_site(whole_site: None, settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.ROOT_URLCONF = Broken
    for name in ("broken", "bare", "cut", "waits", "keeps-no-session"):
        monkeypatch.setitem(access.RIGHTS, name, Right(get=ANYONE, post=ANYONE))


def client() -> Client:
    return Client(raise_request_exception=False)


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("method", ["get", "post"])
def test_one_sentence_and_no_trace(db: None, case: str, method: str) -> None:
    _, status, words = CASES[case]
    answer = getattr(client(), method)(f"/broken/{case}/")
    page = answer.content.decode()
    assert answer.status_code == status
    assert words in page
    for technical in ("technical words", "Traceback", "Error", "psycopg", "django"):
        assert technical not in page
    assert ("Retry-After" in answer) == (status in {429, 503})
    assert answer["Content-Security-Policy"]
    assert answer["Cache-Control"] == "no-store"


def test_a_fault_is_logged_with_its_trace(db: None, caplog: pytest.LogCaptureFixture) -> None:
    client().get("/broken/fault/")
    assert [r for r in caplog.records if r.levelname == "ERROR" and r.exc_info]


def test_a_foreseen_error_leaves_no_trace(db: None, caplog: pytest.LogCaptureFixture) -> None:
    client().get("/broken/own/")
    assert not [r for r in caplog.records if r.exc_info]


def test_other_systems_get_the_same_as_json(db: None) -> None:
    answer = client().get("/broken/deadlock/", headers={"Accept": "application/json"})
    said = json.loads(answer.content)
    assert (answer.status_code, said["code"], said["now"]) == (503, "busy", "Nothing was lost; press again.")
    assert set(said) == {"code", "status", "what", "why", "now"}
    page = client().get("/broken/deadlock/", headers={"Accept": "text/html,application/json;q=0.9"})
    assert page["Content-Type"].startswith("text/html")


def test_a_bare_405_gets_its_page_and_keeps_its_header(db: None) -> None:
    answer = client().get("/bare/")
    assert (answer.status_code, answer["Allow"]) == (405, "PUT")
    assert "cannot be used in that way" in answer.content.decode()


def test_too_much_at_once(db: None) -> None:
    answer = client().post("/sign-in/", {"badge": "X" * 3_000_000})
    assert answer.status_code == HTTPStatus.REQUEST_ENTITY_TOO_LARGE
    assert "Too much was sent at once." in answer.content.decode()
    answer = client().post("/sign-in/", {f"field{n}": "x" for n in range(1001)})
    assert answer.status_code == HTTPStatus.REQUEST_ENTITY_TOO_LARGE


def test_a_body_cut_short(db: None) -> None:
    answer = client().generic("POST", "/sign-in/", b"--x\r\nContent-Disp", "multipart/form-data; boundary=")
    assert answer.status_code == HTTPStatus.BAD_REQUEST
    assert "Nothing was recorded" in answer.content.decode()


def test_a_host_that_is_not_ours(db: None) -> None:
    answer = client().get("/sign-in/", headers={"Host": "elsewhere.example"})
    assert answer.status_code == HTTPStatus.BAD_REQUEST
    assert "elsewhere" not in answer.content.decode()


@pytest.mark.parametrize(
    "badge", ["\x00", "x\x00y", "\ud800", "\u202e", "A" * 5000, "' OR 1=1 --", "<script>"]
)
@pytest.mark.parametrize("way", ["/sign-in/", "/sign-in/desk/"])
def test_hostile_text_in_the_sign_on_form(db: None, badge: str, way: str) -> None:
    posted = {"badge": badge, "name": badge, "pin": badge, "password": badge, "next": badge}
    body = "&".join(f"{k}={quoted(v)}" for k, v in posted.items())
    answer = client().generic("POST", way, body.encode(), "application/x-www-form-urlencoded")
    assert answer.status_code in {HTTPStatus.UNAUTHORIZED, HTTPStatus.BAD_REQUEST}
    assert "<script>" not in answer.content.decode()


def test_a_session_of_the_database_ended_in_mid_request(fresh_database: Database) -> None:
    answer = client().get("/cut/")
    assert (answer.status_code, answer["Retry-After"]) == (503, "2")
    connection.close()
    assert client().get("/sign-in/").status_code == HTTPStatus.OK


def test_a_lock_waited_for_too_long(
    fresh_database: Database, connect: Callable[..., psycopg.Connection]
) -> None:
    other = connect("app")
    other.execute("LOCK TABLE wrong_pin IN ACCESS EXCLUSIVE MODE")
    answer = client().post("/waits/")
    assert (answer.status_code, answer["Retry-After"]) == (503, "2")
    assert "Somebody else is writing" in answer.content.decode()


def test_the_page_about_a_missing_database_needs_no_database(
    monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    """No `db` fixture here: any query would fail the test."""
    answer = client().get("/broken/gone/")
    assert answer.status_code == HTTPStatus.SERVICE_UNAVAILABLE
    assert "<title>" in answer.content.decode()


def test_a_page_that_cannot_be_drawn_still_says_its_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("plant.middleware.render_to_string", lambda *_: 1 / 0)
    answer = client().get("/broken/gone/")
    assert answer.status_code == HTTPStatus.SERVICE_UNAVAILABLE
    assert "Nothing was lost; press again." in answer.content.decode()


def test_the_tree_of_errors_is_the_one_drawn_in_its_docstring() -> None:
    drawn = str(errors.__doc__)
    kinds = [errors.PlantError]
    while kinds:
        kind = kinds.pop()
        kinds += kind.__subclasses__()
        assert kind.__name__ in drawn
        assert kind.what
        assert kind.now
    codes = [k.code for k in every(errors.PlantError) if k is not errors.PlantError]
    assert len(codes) == len(set(codes))


def every(kind: type[errors.PlantError]) -> list[type[errors.PlantError]]:
    return [kind, *(below for child in kind.__subclasses__() for below in every(child))]


def quoted(text: str) -> str:
    return "".join(f"%{byte:02X}" for byte in text.encode("utf-8", "surrogatepass"))


@pytest.mark.parametrize(("how", "status"), [("away", 503), ("deleted", 401)])
def test_a_session_that_could_not_be_stored(fresh_database: Database, how: str, status: int) -> None:
    """The scan may be recorded by then: nobody may be told that nothing was, or that it cannot be read."""
    answer = Client().get(f"/keeps-no-session/?how={how}")
    assert answer.status_code == status
    assert ("Retry-After" in answer) is (how == "away")
