"""The fields of a lesson in a template: one line each, with what of a plain form was refused at its own field."""

from typing import Any

from django import template
from django.template.context import Context

register = template.Library()


@register.inclusion_tag("grading/_detail.html", takes_context=True)
def detail(context: Context, name: str, short: str, label: str, mode: str = "", hint: str = "") -> dict[str, Any]:
    """Show the input of one detail of the lesson; `short` is its id, `mode` its keyboard, without one a line of text.

    The context holds `details` by name and, of a refused form, `refused_field` and `entry_error`.
    """
    return {
        "id": f"l-{short}",
        "field": f"lesson.{name}",
        "label": label,
        "mode": mode,
        "hint": hint,
        "value": context["details"][name],
        **_refused(context, name),
    }


@register.inclusion_tag("grading/_field_error.html", takes_context=True)
def detail_error(context: Context, name: str, short: str) -> dict[str, Any]:
    """Show why the detail of this name was refused, if it was."""
    return {"id": f"l-{short}", **_refused(context, name)}


def _refused(context: Context, name: str) -> dict[str, Any]:
    return {"error": context.get("entry_error") if context.get("refused_field") == f"lesson.{name}" else ""}
