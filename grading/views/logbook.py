"""Print a student's lessons as lines of a logbook."""

import uuid as uuids

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from grading.actions import sheets
from grading.forms.logbook import PrintLogbookForm
from grading.models import LogbookForm, Sheet
from lessons.access import get_readable_enrolment
from lessons.models import Lesson
from school.current import school_day
from school.errors import Refusal


@require_http_methods(["GET", "POST"])
def logbook(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show what can be printed and was, for the student and the staff; print on a POST and open it."""
    now = timezone.now()
    enrolment = get_readable_enrolment(request.user, uid)
    lessons = list(Lesson.objects.signed().filter(enrolment=enrolment).current().in_order())
    form = PrintLogbookForm(request.POST if request.method == "POST" else None, lessons=lessons)
    refused = ""
    if request.method == "POST" and form.is_valid():
        try:
            made = sheets.print_logbook(
                enrolment=enrolment,
                on=school_day(now),
                paper=form.cleaned_data["paper"],
                form=LogbookForm(form.cleaned_data["form"]),
                lessons=form.lessons,
                by=request.user,
                at=now,
            )
        except Refusal as refusal:
            refused = str(refusal)
        else:
            return redirect("grading:sheet_pdf", made.uid)
    printed = Sheet.objects.filter(enrolment=enrolment, kind=Sheet.Kind.LOGBOOK).defer("pdf", "content")
    context = {
        "enrolment": enrolment,
        "form": form,
        "lessons": lessons,
        "refused": refused,
        "sheets": printed.select_related("printed_by").order_by("-number"),
    }
    return render(request, "grading/logbook.html", context, status=422 if request.method == "POST" else 200)
