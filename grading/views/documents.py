"""Show a document of a person with its pictures."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from lessons.models import Enrolment
from school.attachments import may_attach, may_see
from school.models import Paper
from school.views.attachments import work_on_pictures


@require_http_methods(["GET", "POST"])
def document(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a document with its pictures, to its holder too; who keeps the records adds and withdraws them."""
    paper = get_object_or_404(Paper.objects.select_related("person"), pk=pk)
    if not may_see(request.user, paper):
        raise Http404("There is no such document.")
    context, done = work_on_pictures(request, paper)
    if done:
        return redirect("grading:document", pk)
    context["paper"] = paper
    if may_attach(request.user, paper):
        # Back to where documents are recorded: the record of a student, the page of a person for others.
        context["enrolment"] = Enrolment.objects.filter(student=paper.person_id).order_by("-pk").first()
    return render(request, "grading/document.html", context, status=422 if context["wrong"] else 200)
