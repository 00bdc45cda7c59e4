"""What every request and every answer is held to."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

Answer = Callable[[HttpRequest], HttpResponse]

# The pages use no camera, microphone or place; no page they could be framed in or led to may ask for them. What an
# answer holds is for who asked: nothing keeps it, so that the key “back” shows nothing once somebody has logged out.
# (What a tablet keeps for a day without network it keeps by its own script, and forgets when its person logs out.)
HEADERS = {
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=(), browsing-topics=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cache-Control": "no-store",
}


class HeadersOfEveryAnswer:
    """Outermost, so that refusals of the framework and redirects to https carry them too."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.answer(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response


class NothingTooLarge:
    """More than the largest file that any page takes is refused before a byte of it is read."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        length = request.META.get("CONTENT_LENGTH") or "0"
        if not (length.isascii() and length.isdigit()) or int(length[:12]) > settings.MOST_BYTES_SENT:
            return HttpResponse(render_to_string("413.html"), status=413)
        return self.answer(request)


class WhatTheRecordCanHold:
    """PostgreSQL's text holds every character but NUL, which no person types: refused before anything is written."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.answer(request)

    def process_view(self, request: HttpRequest, *view: Any) -> None:
        for sent in (request.GET, request.POST):
            if any("\0" in text for name, values in sent.lists() for text in (name, *values)):
                raise BadRequest("A field holds a NUL character.")
