"""Show one aircraft: its registration and type, its service, and its documents."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from school import fleet
from school.aircraft_documents import kind_title, newest_papers
from school.current import school_day
from school.errors import Refusal
from school.fleet_forms import AircraftPaperForm, CorrectAircraftForm
from school.formats import write_number
from school.models import Aircraft, AircraftPaper
from school.views.attachments import PICTURES, work_on_pictures
from school.views.places import require_manager


@require_http_methods(["GET", "POST"])
def one_aircraft(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an aircraft with its documents; a POST corrects registration and type until a lesson rests on them."""
    keeper, one = require_manager(request), _get_aircraft(pk)
    form = CorrectAircraftForm(request.POST if request.method == "POST" else None, aircraft=one)
    if form.is_valid():
        try:
            fleet.correct_aircraft(aircraft=one, **form.cleaned_data, by=keeper, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, "Saved.")
            return redirect("school:one_aircraft", pk)
    return _render(request, one, form=form) if form.is_bound else _render(request, one)


@require_POST
def add_aircraft_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a document of an aircraft."""
    keeper, one = require_manager(request), _get_aircraft(pk)
    form = AircraftPaperForm(request.POST, request.FILES)
    if form.is_valid():
        try:
            paper = fleet.record_aircraft_paper(aircraft=one, **form.cleaned_data, by=keeper, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"{kind_title(paper)} is on record.")
            return redirect("school:one_aircraft", pk)
    return _render(request, one, paper_form=form)


@require_POST
def void_aircraft_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """Void a document that was entered wrongly; it stays readable with the reason."""
    keeper = require_manager(request)
    paper, reason = get_object_or_404(AircraftPaper, pk=pk), request.POST.get("reason", "")
    try:
        fleet.void_aircraft_paper(paper=paper, reason=reason, by=keeper, at=timezone.now())
    except Refusal as refusal:
        shown = {"refused": str(refusal), "voiding": paper.pk, "void_reason": reason}
        return _render(request, _get_aircraft(paper.aircraft_id), **shown)
    messages.info(request, "The entry is void.")
    return redirect("school:one_aircraft", paper.aircraft_id)


@require_http_methods(["GET", "POST"])
def aircraft_document(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a document of an aircraft with its pictures; add and withdraw them."""
    require_manager(request)
    paper = get_object_or_404(AircraftPaper.objects.select_related("aircraft__type"), pk=pk)
    context, done = work_on_pictures(request, paper)
    if done:
        return redirect("school:aircraft_document", pk)
    context |= {"paper": paper, "title": kind_title(paper)}
    return render(request, "school/aircraft_document.html", context, status=422 if context["wrong"] else 200)


def _get_aircraft(pk: int) -> Aircraft:
    return get_object_or_404(Aircraft.objects.select_related("type"), pk=pk)


def _render(request: HttpRequest, one: Aircraft, **shown: Any) -> HttpResponse:
    """Show the page; `shown` has what was refused, as it was typed."""
    today = school_day(timezone.now())
    papers = list(
        one.papers.select_related("recorded_by", "voided_by").annotate(pictures=PICTURES).order_by("-issued", "-pk")
    )
    newest = {row.pk for row in newest_papers(row for row in papers if not row.voided_at)}
    # What counts first, the next to expire above all; then what was renewed or voided.
    papers.sort(key=lambda row: (row.pk not in newest, row.expires is None, row.expires or row.issued))
    used = fleet.is_aircraft_used(one)
    context: dict[str, Any] = {
        "aircraft": one,
        "used": used,
        "papers": [(row, kind_title(row), _state(row, today), row.pk in newest, _hours(row)) for row in papers],
        "form": None if used else CorrectAircraftForm(aircraft=one),
        "paper_form": AircraftPaperForm(),
        **shown,
    }
    wrong = "refused" in shown or any(form.errors for form in shown.values() if hasattr(form, "errors"))
    return render(request, "school/one_aircraft.html", context, status=422 if wrong else 200)


def _hours(paper: AircraftPaper) -> str:
    return "" if paper.due_at_hours is None else write_number(paper.due_at_hours)


def _state(paper: AircraftPaper, today: Any) -> str:
    """Return “expired” for a document whose last day is over, or nothing."""
    return "expired" if paper.expires and paper.expires < today else ""
