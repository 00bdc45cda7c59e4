"""Cite paragraphs of the law in templates."""

from django import template

from school import citations

register = template.Library()


@register.simple_tag
def cite(paragraph: str) -> str:
    """Write “ (14 CFR 61.87(n))” under the rules that have it, nothing under others."""
    return citations.cite(paragraph)


@register.filter
def own_law(text: str) -> str:
    """Write a published text without the clauses that name another law than the school's."""
    return citations.own_law(text)


@register.simple_tag
def us_rules() -> bool:
    """Return whether 14 CFR is the law of the school."""
    return citations.follows_us_rules()
