import sys

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_POST

from school import app_shell
from school.context import DISPLAY_MODES
from school.transient_errors import find_transient_error

YEAR_SECONDS = 365 * 24 * 3600
RETRY_AFTER_SECONDS = 10  # seconds


@login_not_required
@require_POST
def choose_display(request: HttpRequest) -> HttpResponse:
    """Remember the display that the reader chose, and go back to the page they were on."""
    back = request.POST.get("next", "/")
    # Only an address of our own: otherwise a forged field could send the reader to any site.
    here = url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure())
    response = HttpResponseRedirect(back if here and back.startswith("/") else "/")
    chosen = request.POST.get("light")
    if chosen in DISPLAY_MODES:
        response.set_cookie(
            settings.DISPLAY_COOKIE,
            chosen,
            max_age=YEAR_SECONDS,
            httponly=True,
            samesite="Lax",
            secure=request.is_secure(),
        )
    return response


@login_not_required
@require_GET
def manifest(request: HttpRequest) -> JsonResponse:
    """Return name, icons and colours with which a device installs the application."""
    return JsonResponse(app_shell.manifest(), content_type="application/manifest+json")


@login_not_required
@require_GET
def key_to_marks(request: HttpRequest) -> HttpResponse:
    return render(request, "school/key_to_marks.html")


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a malformed request without a query, because anybody may have sent it."""
    return HttpResponse(render_to_string("400.html"), status=400)


@login_not_required
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    return render(request, "403_csrf.html", status=403)


@login_not_required
def server_error(request: HttpRequest) -> HttpResponse:
    """Answer a failure: with 503 where it may pass by itself, so that a tablet keeps its taps and sends them again.

    It makes no query, because the database may be what failed. Its number finds the lines of the log.
    """
    fault = find_transient_error(sys.exc_info()[1])
    if fault is None:
        return HttpResponse(render_to_string("500.html", {"number": getattr(request, "id", "")}), status=500)
    page = render_to_string("503.html", {"fault": fault})
    return HttpResponse(
        page, status=503, headers={"Retry-After": str(RETRY_AFTER_SECONDS), "Cache-Control": "no-store"}
    )
