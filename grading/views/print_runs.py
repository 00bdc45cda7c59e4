"""Print for many students: list, request and watch print runs, send their file; and list the background jobs."""

import uuid as uuids
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from grading.actions.print_runs import cancel_run, request_run, retry_run
from grading.forms.training import PrintRunForm
from grading.models import PrintRun
from grading.pages import background_jobs as job_pages
from grading.pages.print_runs import failed_items, run_progress, search_students
from grading.sheets.print_run_zip import folder_name, stream_zip
from school.current import school_day
from school.downloads import content_disposition
from school.errors import Refusal
from school.models import Person
from school.permissions import can_manage_records, can_print_runs

RUNS_SHOWN = 50


def _require_print_right(request: HttpRequest) -> Person:
    if not can_print_runs(request.user):
        raise PermissionDenied("Only the administrator or the chief instructor may print for many students.")
    person: Person = request.user
    return person


def _get_run(request: HttpRequest, uid: uuids.UUID) -> PrintRun:
    _require_print_right(request)
    run = PrintRun.objects.with_counts().select_related("asked_by", "cancelled_by").filter(uid=uid).first()
    if run is None:
        raise Http404("There is no such print run.")
    return run


@require_GET
def print_runs(request: HttpRequest) -> HttpResponse:
    """List the last runs, newest first."""
    _require_print_right(request)
    runs = PrintRun.objects.with_counts().select_related("asked_by").order_by("-asked_at", "-pk")[:RUNS_SHOWN]
    return render(request, "grading/print_runs.html", {"runs": runs})


@require_http_methods(["GET", "POST"])
def request_print_run(request: HttpRequest) -> HttpResponse:
    """Choose kind, day, paper and students. The key “Find” changes the list to pick from and prints nothing."""
    printer, now = _require_print_right(request), timezone.now()
    finding = "find" in request.POST or bool(request.htmx)
    asking = request.method == "POST" and not finding
    form = PrintRunForm(request.POST if request.method == "POST" else None, on=school_day(now))
    picked = form.picked(request.POST.getlist("picked"))
    refused = ""
    if asking and form.is_valid():
        try:
            run = request_run(**form.asked(picked), by=printer, at=now)
        except Refusal as refusal:
            refused = str(refusal)
        else:
            return redirect("grading:print_run", run.uid)
    found, more = search_students(request.POST.get("q", "").strip()[:60], picked)
    context = {
        "form": form,
        "wrong": asking,
        "refused": refused,
        "q": request.POST.get("q", ""),
        "picked": picked,
        "found": found,
        "more": more,
    }
    wrong = asking and (refused or form.errors)
    return render(request, "grading/request_print_run.html", context, status=422 if wrong else 200)


@require_GET
def print_run(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show one run. While it goes on, the page polls its progress, and the spoken line once for each tenth."""
    run, now = _get_run(request, uid), timezone.now()
    progress = run_progress(run, now)
    if request.htmx and request.htmx.target == "heard":
        if request.GET.get("tenths") == str(progress.tenths) and not progress.finished:
            # With 204 htmx leaves the line as it is: read aloud at each poll, it would talk over everything else.
            return HttpResponse(status=204)
        return render(request, "grading/print_run.html#heard", {"run": run, "progress": progress})
    context = {"run": run, "progress": progress, "problems": failed_items(run) if progress.failed else []}
    return render(request, f"grading/print_run.html{'#progress' if request.htmx else ''}", context)


@require_POST
def cancel_print_run(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    run = _get_run(request, uid)
    return _redirect_after(request, run, lambda: cancel_run(run=run, by=request.user, at=timezone.now()))


@require_POST
def retry_print_run(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    run = _get_run(request, uid)
    return _redirect_after(request, run, lambda: retry_run(run=run, by=request.user, at=timezone.now()))


def _redirect_after(request: HttpRequest, run: PrintRun, action: Any) -> HttpResponse:
    try:
        action()
    except Refusal as refusal:
        # The run ended between the page and the click: that is news and no error.
        messages.info(request, str(refusal))
    return redirect("grading:print_run", run.uid)


@require_GET
def print_run_file(request: HttpRequest, uid: uuids.UUID) -> StreamingHttpResponse:
    """Send everything that was printed, with fingerprints, once no item waits."""
    run = _get_run(request, uid)
    # The file has the same bytes at each download, so it exists complete or not at all.
    if not run.printed or not run_progress(run, timezone.now()).finished:
        raise Http404("There is no file of this run until it has ended with a sheet.")
    return StreamingHttpResponse(
        stream_zip(run),
        content_type="application/zip",
        headers={"Content-Disposition": content_disposition(f"{folder_name(run)}.zip")},
    )


@require_GET
def background_jobs(request: HttpRequest) -> HttpResponse:
    """Show the background jobs to the administrator."""
    if not can_manage_records(request.user):
        raise PermissionDenied("Only the administrator may open the records.")
    now = timezone.now()
    context = {
        "daily": job_pages.daily_jobs(),
        "waiting": job_pages.waiting_jobs(),
        "failed": job_pages.failed_jobs(),
        "workers": job_pages.count_live_workers(now - timedelta(seconds=settings.WORKER_TIMEOUT)),
        "by_worker": settings.DAILY_BY_WORKER,
    }
    return render(request, "grading/background_jobs.html", context)
