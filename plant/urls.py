"""The addresses, from the top: records and pages first, then what other systems ask.

Every name needs a row in plant/access.py; without one its address is refused to everybody.
"""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("trace.urls")),
]

handler400 = "plant.middleware.handle_400"
handler403 = "plant.middleware.handle_403"
handler404 = "plant.middleware.handle_404"
handler500 = "plant.middleware.handle_500"
