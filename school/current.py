"""The one school of this installation, read once a request however many ask for it."""

from collections.abc import Callable
from contextvars import ContextVar

from django.http import HttpRequest, HttpResponse

from school.models import School

# A list of none or one while a request is answered; None elsewhere, where the database is asked each time.
_request_cache: ContextVar[list[School] | None] = ContextVar("school_read", default=None)


def get_school() -> School:
    """With its aerodrome. School.DoesNotExist before there is one."""
    read = _request_cache.get()
    if read:
        return read[0]
    found = School.objects.select_related("aerodrome").get()
    if read is not None:
        read.append(found)
    return found


def cache_school_per_request(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Middleware: what was read in one request is not known in the next."""

    def answer(request: HttpRequest) -> HttpResponse:
        token = _request_cache.set([])
        try:
            return get_response(request)
        finally:
            _request_cache.reset(token)

    return answer
