"""Show an instructor's page: to the chief instructor, the administrator and the instructor."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from grading.pages.instructor import instructor_context
from school.models import Person, Role
from school.permissions import can_see_all_students, can_see_instructor


@require_GET
def instructor(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one instructor: students, lessons, certificate, training given, findings."""
    reader = request.user
    if not can_see_all_students(reader):
        raise Http404("There is no such page for you.")  # before it is looked for: who teaches is not told either
    somebody = get_object_or_404(Person, pk=pk, roles__contains=[Role.INSTRUCTOR])
    if not can_see_instructor(reader, somebody):
        raise PermissionDenied("This page is for its instructor, the chief instructor and the administrator.")
    return render(request, "grading/instructor.html", instructor_context(somebody, reader, timezone.now()))
