"""What a request may send, and whose address it comes from."""

from __future__ import annotations

import re
from collections.abc import Callable
from ipaddress import ip_address

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

    Behind a proxy it is the last one that the proxy adds; what stands before it anybody may have written. A word in its
    place, such as `unknown`, says nothing: then it is the proxy's own.
    """
    if settings.BEHIND_PROXY:
        asked_for = _address_in(request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2])
        if asked_for:
            return asked_for
    return str(request.META.get("REMOTE_ADDR", ""))


def _address_in(told: str) -> str:
    """Return the address that a proxy tells, without the port that some add; empty where what it tells is none."""
    told = told.strip().strip('"')
    bare = re.fullmatch(r"\[([^]]*)\](?::\d+)?|([^:]*):\d+", told)
    try:
        return str(ip_address((bare[1] or bare[2]) if bare else told))
    except ValueError:
        return ""
