"""Show and change the settings of the school."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from grading.actions.school import change_school
from school.errors import Refusal
from school.forms import SchoolForm
from school.models import Person, Role, School
from school.permissions import can_decide, can_manage_records, can_see_settings


@require_http_methods(["GET", "POST"])
def school_settings(request: HttpRequest) -> HttpResponse:
    """Show the settings to administrator and chief instructor; each may change their own part."""
    if not can_see_settings(request.user):
        raise PermissionDenied("Only the administrator and the chief instructor may change the settings.")
    form = SchoolForm(request.POST or None, school=School.objects.get(), person=request.user)
    if request.method == "POST" and form.is_valid():
        try:
            change_school(changes=form.cleaned_data, by=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, "Settings saved.")
            return redirect("grading:school_settings")
    context = {
        "form": form,
        "keeping": can_manage_records(request.user),
        "can_decide": can_decide(request.user),
        "instructors": Person.objects.active_with_role(Role.INSTRUCTOR).by_name(),
    }
    return render(request, "grading/school_settings.html", context, status=422 if form.errors else 200)
