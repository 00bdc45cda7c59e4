"""The address book of the project with the floors beside it: bare views behind the same middleware."""

from pathlib import Path

from django.http import FileResponse, HttpRequest, HttpResponse
from django.template import engines
from django.urls import path

from school.urls import urlpatterns as ours

ROWS = "{% for row in rows %}<tr><td>{{ row.0 }}</td><td>{{ row.1 }}</td><td>{{ row.2 }}</td></tr>{% endfor %}"


def bare(request: HttpRequest, rows: int) -> HttpResponse:
    """So many rows with nothing to ask and nothing to decide; the session and the person are read as for any page."""
    assert request.user.is_authenticated
    ready = [("A name", "what stands beside it", number) for number in range(rows)]
    return HttpResponse(engines["django"].from_string(ROWS).render({"rows": ready}))


def bare_file(request: HttpRequest, name: str) -> FileResponse:
    """A file of the temporary folder, as it lies there."""
    return FileResponse(Path("/tmp", name).open("rb"))


urlpatterns = [path("bare/<int:rows>/", bare), path("bare-file/<str:name>", bare_file), *ours]
