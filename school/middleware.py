"""What every request and every answer is held to."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse

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
