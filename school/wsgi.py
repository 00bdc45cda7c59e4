"""What the web server calls."""

import os
from collections.abc import Callable, Iterable
from typing import Any

from django.core.wsgi import get_wsgi_application
from django.db import InterfaceError, OperationalError, connections

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "school.settings")
django = get_wsgi_application()


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    """Django sees to a kept connection before it looks at the request: where that fails no page of it answers."""
    try:
        return django(environ, start_response)
    except (InterfaceError, OperationalError):
        from school.views import failed  # noqa: PLC0415 - after the applications are loaded

        connections.close_all()
        page = failed(None)
        start_response(f"{page.status_code} {page.reason_phrase}", list(page.items()))
        return [page.content]
