"""Cache a fragment of a page as rendered (school/fragment_cache.py).

{% load fragment_cache %}{% fragment part %} … {% endfragment %}
"""

import secrets
from typing import Any

from django import template
from django.template.base import FilterExpression, NodeList, Parser, Token
from django.template.context import Context

from school.fragment_cache import CachedFragment, fragments

register = template.Library()

# Takes the place of the reader's own CSRF token in a cached text. Nobody outside this process knows it.
CSRF_PLACEHOLDER = secrets.token_hex(32)


class FragmentNode(template.Node):
    def __init__(self, part: FilterExpression, nodelist: NodeList) -> None:
        self.part, self.nodelist = part, nodelist

    def render(self, context: Context) -> str:
        part: CachedFragment = self.part.resolve(context)
        if not part.value:
            with context.push(**part.fill()):
                return self.nodelist.render(context)

        def render() -> str:
            more: dict[str, Any] = {"csrf_token": CSRF_PLACEHOLDER}
            with context.push(**part.fill(), **more):
                return str(self.nodelist.render(context))

        text = fragments.get_or_render(part.value, render)
        if CSRF_PLACEHOLDER in text:
            text = text.replace(CSRF_PLACEHOLDER, str(context["csrf_token"]))
        return text


@register.tag
def fragment(parser: Parser, token: Token) -> FragmentNode:
    _, part = token.split_contents()
    nodelist = parser.parse(("endfragment",))
    parser.delete_first_token()
    return FragmentNode(parser.compile_filter(part), nodelist)
