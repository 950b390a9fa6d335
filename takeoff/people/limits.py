"""What a request may send, and whose address it comes from."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

MEGABYTE = 1024 * 1024


class SizeMiddleware:
    """Refuse a request that announces more than the site takes, before anything reads it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Pass the request on, or answer 413."""
        # A request without a length has no body: WSGI reads none.
        announced = request.META.get("CONTENT_LENGTH") or "0"
        most: int = settings.MOST_BYTES_OF_A_REQUEST
        if announced.isdigit() and int(announced) > most:
            return render(request, "413.html", {"most": most // MEGABYTE}, status=413)
        return self.get_response(request)


def asking_address(request: HttpRequest) -> str:
    """
    Return the address that a request comes from, by which wrong passwords are counted.

    Behind a proxy it is the last one that the proxy adds; what stands before it anybody may have written.
    """
    if settings.BEHIND_PROXY:
        asked_for = request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip()
        if asked_for:
            return str(asked_for)
    return str(request.META.get("REMOTE_ADDR", ""))
