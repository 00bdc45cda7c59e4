"""The administrator's list shows everybody enrolled, in pages, and the lessons that wait longest for a signature."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Page, Paginator

from lessons.models import Enrolment, Lesson

# Both lists are bounded: one of everybody who was ever enrolled grows without end.
STUDENTS_PER_PAGE = 100
MAX_UNSIGNED_SHOWN = 50
FILTERS = (("", "In training"), ("ended", "Ended"), ("all", "All"))


@dataclass(frozen=True)
class RecordsFilter:
    """What the reader requested: words of a name or number, one of FILTERS, a page."""

    words: str = ""
    shown: str = ""
    page: str = "1"

    @classmethod
    def of(cls, sent: Mapping[str, str]) -> "RecordsFilter":
        known = {value for value, _ in FILTERS}
        shown = sent.get("show", "")
        # An address typed by hand must not fail: an unknown filter means the students in training.
        return cls(sent.get("q", "").strip()[:60], shown if shown in known else "", sent.get("page", "1"))

    @property
    def query(self) -> str:
        """Return the query string without the page, for the links to the others."""
        return urlencode({name: value for name, value in (("q", self.words), ("show", self.shown)) if value})


def records_context(asked: RecordsFilter, on: date) -> dict[str, Any]:
    waiting = Lesson.objects.unsigned()
    return {
        "page": enrolment_page(asked, on),
        "asked": asked,
        "shown": FILTERS,
        # Oldest first, so that the cap cuts off the newest lessons and not those that wait longest.
        "unsigned": list(waiting.for_pages().in_order()[:MAX_UNSIGNED_SHOWN]),
        "unsigned_count": waiting.count(),
    }


def enrolment_page(asked: RecordsFilter, on: date) -> Page[Enrolment]:
    """Return one page of the enrolments, by name."""
    rows = Enrolment.objects.search(asked.words).for_pages()
    if asked.shown == "ended":
        rows = rows.filter(ended_on__lte=on)
    elif asked.shown != "all":
        rows = rows.exclude(ended_on__lte=on)  # one who is enrolled from a later day on is looked for here
    # The primary key settles equal names: without it a student could be on two pages or on none.
    by_name = rows.order_by("student__family_name", "student__given_name", "pk")
    # get_page() answers a wrong page number with the first or the last page and not with an error.
    return Paginator(by_name, STUDENTS_PER_PAGE).get_page(asked.page)
