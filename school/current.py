"""Read the one school of this installation once for each request."""

from collections.abc import Callable
from contextvars import ContextVar

from django.http import HttpRequest, HttpResponse

from school.models import School

# An empty list or one school while a request is answered. None elsewhere, in commands and workers, which run for
# long and must see a change: there each call queries the database.
_request_cache: ContextVar[list[School] | None] = ContextVar("school_read", default=None)


def get_school() -> School:
    """Return the school with its aerodrome. Raises School.DoesNotExist before there is one."""
    cached = _request_cache.get()
    if cached:
        return cached[0]
    school = School.objects.select_related("aerodrome").get()
    if cached is not None:
        cached.append(school)
    return school


def cache_school_per_request(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Give each request a cache of its own (middleware), so that the next one sees changed settings."""

    def answer(request: HttpRequest) -> HttpResponse:
        token = _request_cache.set([])
        try:
            return get_response(request)
        finally:
            _request_cache.reset(token)

    return answer
