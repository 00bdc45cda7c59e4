"""A fragment of a page that is cached as rendered (school/fragment_cache.py).

{% load fragment_cache %}{% fragment part %} … {% endfragment %}
"""

import secrets
from typing import Any

from django import template
from django.core.cache import caches
from django.template.base import FilterExpression, NodeList, Parser, Token
from django.template.context import Context

register = template.Library()

# Stands in what is kept where the reader's own CSRF token belongs. Nobody outside this process knows it.
CSRF_PLACEHOLDER = secrets.token_hex(32)


class FragmentNode(template.Node):
    def __init__(self, part: FilterExpression, nodelist: NodeList) -> None:
        self.part, self.nodelist = part, nodelist

    def render(self, context: Context) -> str:
        part = self.part.resolve(context)
        if not part.stamp:
            with context.push(**part.fill()):
                return self.nodelist.render(context)
        kept = caches["drawn"]
        text: str | None = kept.get(part.stamp)
        if text is None:
            more: dict[str, Any] = {"csrf_token": CSRF_PLACEHOLDER}
            with context.push(**part.fill(), **more):
                text = str(self.nodelist.render(context))
            kept.set(part.stamp, text)
        if CSRF_PLACEHOLDER in text:
            text = text.replace(CSRF_PLACEHOLDER, str(context["csrf_token"]))
        return text


@register.tag
def fragment(parser: Parser, token: Token) -> FragmentNode:
    _, part = token.split_contents()
    nodelist = parser.parse(("endfragment",))
    parser.delete_first_token()
    return FragmentNode(parser.compile_filter(part), nodelist)
