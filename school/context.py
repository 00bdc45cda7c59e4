from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from school.current import the_school
from school.models import School

LIGHTS = ("day", "sun", "night", "system")


def page(request: HttpRequest) -> dict[str, Any]:
    """What every page shows: the school and the light the reader chose."""
    light = request.COOKIES.get(settings.LIGHT_COOKIE, "day")
    return {
        "school": SimpleLazyObject(_school),
        "light": light if light in LIGHTS else "day",
        "lights": LIGHTS,
    }


def _school() -> School | None:
    try:
        return the_school()
    except School.DoesNotExist:  # a fresh installation shows its login page all the same
        return None
