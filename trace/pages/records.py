"""Whether the records are what they say: the last check of them, when it was, and each row it found wrong."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from trace.readmodels.checking import last_ended, sentence


def records(request: HttpRequest) -> HttpResponse:
    """Context: check (trace.models.RecordCheck, None before the first), said (a sentence)."""
    check = last_ended()
    return render(request, "pages/records.html", {"check": check, "said": sentence(check) if check else ""})
