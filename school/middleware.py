"""Apply the rules that hold for every request and every answer."""

import re
import time
import uuid
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.core.exceptions import BadRequest, MiddlewareNotUsed
from django.db import Error
from django.http import HttpRequest, HttpResponse
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django_htmx.http import HttpResponseClientRedirect

from school import logs, metrics
from school.accounts import devices, password_attempts, second_step
from school.errors import Refusal
from school.file_reader import RETRY_AFTER_SECONDS, ReadersBusy, all_places_taken

GetResponse = Callable[[HttpRequest], HttpResponse]
REQUEST_ID_PATTERN = re.compile(r"[A-Za-z0-9-]{8,64}")


class RequestId:
    """Give each request an id, the proxy's or a new one, for the log, the answer and the error page."""

    def __init__(self, answer: GetResponse) -> None:
        self.get_response = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        given = request.headers.get("X-Request-ID", "")
        # Only an id of harmless characters is accepted: it is written into the log and a header.
        number = given if REQUEST_ID_PATTERN.fullmatch(given) else uuid.uuid4().hex
        request.id = number  # type: ignore[attr-defined]
        token = logs.current_request.set(request)
        try:
            response = self.get_response(request)
        finally:
            logs.current_request.reset(token)
        response.headers["X-Request-ID"] = number
        return response


class RequestMetrics:
    """Count requests and their time by view, and database errors. It is off without a METRICS_TOKEN."""

    def __init__(self, answer: GetResponse) -> None:
        if not settings.METRICS_TOKEN:
            raise MiddlewareNotUsed
        self.get_response, self.counts = answer, metrics.get_counts()

    def __call__(self, request: HttpRequest) -> HttpResponse:
        begun = time.perf_counter()
        response = self.get_response(request)
        # By view and not by path: every key in a path would become a series of its own.
        view = request.resolver_match.view_name if request.resolver_match else "none"
        self.counts.record_response(view, response.status_code, time.perf_counter() - begun)
        return response

    def process_exception(self, request: HttpRequest, fault: Exception) -> None:
        if isinstance(fault, Error):
            self.counts.database_faults.inc()


# The pages need no camera, microphone or location, so every use is denied, also to a page that frames them.
# An answer is for the person who asked: no cache may store it, so that the “back” key shows nothing after log-out.
# (A tablet stores pages for use without network by its own script, and deletes them when its person logs out.)
RESPONSE_HEADERS = {
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=(), browsing-topics=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cache-Control": "no-store",
}


class SecurityHeaders:
    """Give every answer RESPONSE_HEADERS, but for those that its view set itself.

    Only RequestId and RequestMetrics lie outside of it, which answer nothing themselves. So the refusals of every other
    middleware, the framework's error pages and the redirects to https have the headers too.
    """

    def __init__(self, answer: GetResponse) -> None:
        self.get_response = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        for name, value in RESPONSE_HEADERS.items():
            # A view may have set its own, such as a page that a tablet stores.
            response.headers.setdefault(name, value)
        return response


class RequestSizeLimit:
    """Refuse a request larger than the largest file of any page, before its body is read."""

    def __init__(self, answer: GetResponse) -> None:
        self.get_response = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        length = request.META.get("CONTENT_LENGTH") or "0"
        # int() also accepts other scripts' digits and is slow on a very long number: hence the checks and the slice.
        if not (length.isascii() and length.isdigit()) or int(length[:12]) > settings.MAX_REQUEST_BYTES:
            return HttpResponse(render_to_string("413.html"), status=413)
        return self.get_response(request)


class KnownDevice:
    """Mark the browser that somebody logged in with, so that strangers' guesses do not count against it."""

    def __init__(self, answer: GetResponse) -> None:
        self.get_response = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        devices.write_cookie(request, response)
        return response


class RejectNul:
    """Refuse NUL in a field: PostgreSQL's text cannot store it, and nobody types it."""

    def __init__(self, answer: GetResponse) -> None:
        self.get_response = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *view: Any) -> None:
        for sent in (request.GET, request.POST):
            if any("\0" in text for name, values in sent.lists() for text in (name, *values)):
                raise BadRequest("A field holds a NUL character.")


class SelectiveGZip(GZipMiddleware):
    """Compress pages, tables and answers to a tablet; printed files are compressed already.

    Django adds a random number of bytes to each answer, so that its length does not reveal secrets in it (BREACH).
    """

    def process_response(self, request: HttpRequest, response: Any) -> Any:
        kind = response.headers.get("Content-Type", "")
        if kind.startswith(("text/", "application/json")):
            return super().process_response(request, response)
        return response


class ConflictResponse:
    """Show a refusal that no form of the page can show: its object changed since the page was loaded."""

    def __init__(self, answer: GetResponse) -> None:
        self.get_response = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, Refusal):
            return None
        return render(request, "409.html", {"sentence": str(error)}, status=409)


class BusyReadersResponse:
    """Say that no reader of files is free at the moment, and when to come back."""

    def __init__(self, answer: GetResponse) -> None:
        self.get_response = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Callable[..., Any], *more: Any) -> HttpResponse | None:
        """Refuse a stranger's file before its body is taken apart, which costs a web process more than the refusal."""
        asks = request.method == "POST" and getattr(view, "reads_strangers_file", False)
        person: Any = request.user
        return self._refuse(request) if asks and not person.is_authenticated and all_places_taken() else None

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        return self._refuse(request) if isinstance(error, ReadersBusy) else None

    def _refuse(self, request: HttpRequest) -> HttpResponse:
        response = render(request, "503_busy.html", status=503)
        response.headers["Retry-After"] = str(RETRY_AFTER_SECONDS)
        return response


class FailedReauthentication:
    """Count wrong passwords at signing and write them in the journal, after the refused action was rolled back."""

    def __init__(self, answer: GetResponse) -> None:
        self.get_response = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with password_attempts.collect_failures(lambda person: devices.device_name(request, person)) as noted:
            response = self.get_response(request)
        if noted:
            password_attempts.record_failures(noted, timezone.now())
        return response


class RequireSecondStep:
    """Make chief instructor and administrator set up a second step before anything else, where it is required.

    Until then they reach the pages that need no log-in, and the pages of the set-up.
    """

    SET_UP_VIEWS = ("mfa_", "account_reauthenticate", "school:logout", "account_logout")

    def __init__(self, answer: GetResponse) -> None:
        self.get_response = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Callable[..., Any], *more: Any) -> HttpResponse | None:
        person: Any = request.user
        match = request.resolver_match
        if not person.is_authenticated or not second_step.is_required(person):
            return None
        # Read as Django's LoginRequiredMiddleware reads it: login_not_required sets it to False.
        if not getattr(view, "login_required", True) or (match and match.view_name.startswith(self.SET_UP_VIEWS)):
            return None
        # Asked last, because it is a query and most requests are decided before it.
        if second_step.is_set_up(person):
            return None
        # htmx would put the page of a plain redirect into a part of the present page.
        if request.headers.get("HX-Request"):
            return HttpResponseClientRedirect(redirect("mfa_index").url)
        return redirect("mfa_index")
