"""The site's addresses, and plain pages under the names in the table of rights that have no address yet."""

from django.http import HttpRequest, HttpResponse
from django.urls import NoReverseMatch, URLPattern, URLResolver, include, path, reverse

from plant.urls import handler400, handler403, handler404, handler500

__all__ = ["handler400", "handler403", "handler404", "handler500", "urlpatterns"]


def plain(request: HttpRequest, **parts: str) -> HttpResponse:
    return HttpResponse("A stand-in page.")


def _missing(name: str, **parts: str) -> bool:
    try:
        reverse(name, "plant.urls", kwargs=parts)
    except NoReverseMatch:
        return True
    return False


STAND_INS: dict[str, tuple[str, dict[str, str]]] = {
    "station": ("scan/<slug:slug>/", {"slug": "load"}),
    "hull": ("hull/<str:serial>/", {"serial": "X"}),
    "lot": ("lot/<str:code>/", {"code": "X"}),
    "balance_of_days": ("balance/", {}),
    "balance": ("balance/<str:code>/", {"code": "X"}),
    "dispersion": ("dispersion/", {}),
    "plan": ("plan/", {}),
    "compare": ("compare/", {}),
    "scope": ("scope/", {}),
    "scope_holds": ("scope/holds/", {}),
    "saved_scope": ("scope/saved/<int:number>/", {"number": "1"}),
    "common_cause": ("common-cause/", {}),
    "containment": ("containment/", {}),
    "recall": ("recall/", {}),
    "drill": ("drill/", {}),
    "search": ("search/", {}),
    "rules": ("rules/", {}),
    "setup": ("setup/<slug:kind>/", {"kind": "mould"}),
}

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("plant.urls")),
    *(path(route, plain, name=name) for name, (route, parts) in STAND_INS.items() if _missing(name, **parts)),
]
