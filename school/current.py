"""Read the one school of this installation once for each request."""

from collections.abc import Callable, Iterator
from contextvars import ContextVar
from datetime import UTC, date, datetime, tzinfo
from functools import wraps
from typing import ParamSpec, TypeVar

from django.http import HttpRequest, HttpResponse

from school.days import day_of, end_of
from school.models import School

Given = ParamSpec("Given")
Piece = TypeVar("Piece")

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


def school_zone() -> tzinfo:
    """Return the zone whose days count. Before there is a school it is UTC: nothing is dated yet."""
    try:
        return get_school().zone
    except School.DoesNotExist:
        return UTC


def school_day(moment: datetime) -> date:
    """Return the school's own day of a moment. For many moments take `school_zone()` once and ask `day_of()`."""
    return day_of(moment, school_zone())


def end_of_school_day(day: date) -> datetime:
    """Return the first moment after the school's own day, for a condition of a query: `signed_at__lt=`."""
    return end_of(day, school_zone())


def school_read_once(make: Callable[Given, Iterator[Piece]]) -> Callable[Given, Iterator[Piece]]:
    """Let a generator read the school once: a streamed answer is made after the request and its cache have ended."""

    @wraps(make)
    def make_within(*args: Given.args, **kwargs: Given.kwargs) -> Iterator[Piece]:
        cached: list[School] = []
        pieces = make(*args, **kwargs)
        while True:
            # Set for one piece at a time: between them other code runs in the same context.
            token = _request_cache.set(cached)
            try:
                piece = next(pieces)
            except StopIteration:
                return
            finally:
                _request_cache.reset(token)
            yield piece

    return make_within


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
