from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from school.current import get_school
from school.models import School

DISPLAY_MODES = ("day", "sun", "night", "system")


def page_context(request: HttpRequest) -> dict[str, Any]:
    """Return what every page shows: the school and the display that the reader chose."""
    light = request.COOKIES.get(settings.DISPLAY_COOKIE, "day")
    return {
        # Lazy: a page without the school's name, such as an error page, makes no query.
        "school": SimpleLazyObject(_school),
        # A cookie is text from outside: only a known mode reaches the page.
        "light": light if light in DISPLAY_MODES else "day",
        "lights": DISPLAY_MODES,
    }


def _school() -> School | None:
    try:
        return get_school()
    except School.DoesNotExist:  # a fresh installation shows its login page all the same
        return None
