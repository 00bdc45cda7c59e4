"""What every request and every answer is held to."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from school.errors import Refused

Answer = Callable[[HttpRequest], HttpResponse]


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


class RefusedMeanwhile:
    """A refusal that no form of the page can show: what it was for changed since the page was loaded."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.answer(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, Refused):
            return None
        return render(request, "409.html", {"sentence": str(error)}, status=409)


class NoDevices:
    """The pages use no camera, microphone or place; no page they could be framed in or led to may ask for them."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.answer(request)
        response.headers.setdefault(
            "Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=(), browsing-topics=()"
        )
        return response
