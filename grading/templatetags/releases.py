"""Show a release in templates. {% load releases %}"""

from django import template

from grading.models import Release
from grading.rules.release_words import limits_words
from school.citations import follows_us_rules

register = template.Library()


@register.filter
def limits(release: Release) -> str:
    """Return the limits of a release in words, as its sheet has them."""
    return limits_words(
        runways=release.runways,
        wind_kt=release.max_wind_kt,
        crosswind_kt=release.max_crosswind_kt,
        visibility_sm=release.min_visibility_sm,
        ceiling_ft=release.min_ceiling_ft,
        metric=not follows_us_rules(),
    )
