"""Answer the monitoring of a server, and show its administrator the state of the installation."""

import logging
import secrets

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.db import Error
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_safe
from prometheus_client import CONTENT_TYPE_LATEST

from grading.operations.running.database_metrics import DatabaseCollector
from grading.operations.running.status import service_problems
from grading.pages.installation import installation_status
from school import metrics as school_metrics
from school.permissions import can_manage_records
from school.versions import component_versions

log = logging.getLogger(__name__)


@login_not_required
@never_cache
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """Answer that this process runs; nothing else is checked."""
    return JsonResponse({"answers": True})


@login_not_required
@never_cache
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """Answer whether work can be sent here; the reason goes to the log, because anybody may read the answer."""
    try:
        problems = service_problems()
    except Error:
        log.warning("Not ready: the database does not answer.", exc_info=True)
        return JsonResponse({"ready": False}, status=503)
    for sentence in problems:
        log.warning("Not ready: %s", sentence)
    return JsonResponse({"ready": not problems}, status=503 if problems else 200)


@login_not_required
@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Send counts and states in the Prometheus text format to a client that has the token of the installation."""
    # Without a token nobody reads: an installation that has none shows nothing to anybody.
    if not settings.METRICS_TOKEN:
        raise Http404
    given = request.headers.get("Authorization", "")
    # Compared in constant time: how long it takes must not tell how much of a guess is right.
    if not secrets.compare_digest(given.encode(), f"Bearer {settings.METRICS_TOKEN}".encode()):
        return HttpResponse("The token is missing or wrong.\n", status=401, headers={"WWW-Authenticate": "Bearer"})
    return HttpResponse(
        school_metrics.get_counts().text(DatabaseCollector(timezone.now())), content_type=CONTENT_TYPE_LATEST
    )


@require_GET
def installation(request: HttpRequest) -> HttpResponse:
    """Show the state of this installation to the administrator."""
    if not can_manage_records(request.user):
        raise PermissionDenied("Only the administrator may open the records.")
    rows = installation_status(timezone.now())
    context = {"matters": rows, "open": [row for row in rows if row.mark == "open"], "versions": component_versions()}
    return render(request, "grading/installation.html", context)
