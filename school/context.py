from typing import Any

from django.conf import settings
from django.http import HttpRequest

from school.models import School

LIGHTS = ("day", "sun", "night", "system")


def page(request: HttpRequest) -> dict[str, Any]:
    """What every page shows: the school and the light the reader chose."""
    light = request.COOKIES.get(settings.LIGHT_COOKIE, "day")
    return {
        "school": School.objects.select_related("aerodrome").first(),
        "light": light if light in LIGHTS else "day",
        "lights": LIGHTS,
    }
