"""A part of a page that is kept as drawn (school/kept.py). {% load kept %}{% kept part %} … {% endkept %}"""

import secrets
from typing import Any

from django import template
from django.core.cache import caches
from django.template.base import FilterExpression, NodeList, Parser, Token
from django.template.context import Context

register = template.Library()

# Stands in what is kept where the reader's own CSRF token belongs. Nobody outside this process knows it.
STAND_IN = secrets.token_hex(32)


class KeptNode(template.Node):
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
            more: dict[str, Any] = {"csrf_token": STAND_IN}
            with context.push(**part.fill(), **more):
                text = str(self.nodelist.render(context))
            kept.set(part.stamp, text)
        if STAND_IN in text:
            text = text.replace(STAND_IN, str(context["csrf_token"]))
        return text


@register.tag
def kept(parser: Parser, token: Token) -> KeptNode:
    _, part = token.split_contents()
    nodelist = parser.parse(("endkept",))
    parser.delete_first_token()
    return KeptNode(parser.compile_filter(part), nodelist)
