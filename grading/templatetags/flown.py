"""Draw circuits as flown in templates. {% load flown %}"""

from django import template
from django.utils.safestring import SafeString, mark_safe

from grading.pages.flown_pictures import Drawn
from school import marks

register = template.Library()


# mark_safe is right for all of them: school/marks escapes every text that it draws.
@register.simple_tag
def drawn(figure: Drawn) -> SafeString:
    """Show a figure in the drawing for the width of the screen; the other one is not there for anybody."""
    wide, narrow = f'<div class="drawn-wide">{figure.wide}</div>', f'<div class="drawn-narrow">{figure.narrow}</div>'
    return mark_safe(f'<div class="drawn">{wide}{narrow}</div>')  # noqa: S308


@register.simple_tag
def flown_key(name: str) -> SafeString:
    return mark_safe(marks.strip_key(name))  # noqa: S308


@register.simple_tag
def flown_pointer(place: str, px: float = 20) -> SafeString:
    return mark_safe(marks.pointer(place, px))  # noqa: S308
