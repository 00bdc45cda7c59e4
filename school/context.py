from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from school.accounts import tablets
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
        # Lazy too: only the pages of somebody whose tablet keeps pages have it.
        "tablet": SimpleLazyObject(lambda: _tablet(request)),
    }


def _tablet(request: HttpRequest) -> dict[str, Any]:
    """Return what a tablet seals with, asks with whether its session was ended, and how long it keeps pages."""
    return {
        "seal": tablets.public_point(request.user.pk),
        "ticket": tablets.session_ticket(request),
        "hours": get_school().tablet_hours,
    }


def _school() -> School | None:
    try:
        return get_school()
    except School.DoesNotExist:  # a fresh installation shows its login page all the same
        return None
