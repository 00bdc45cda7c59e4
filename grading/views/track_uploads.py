"""Import the flight tracks of a day's lessons: upload them, see which lesson each is of, save them all at once."""

import uuid as uuids

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from grading.actions import track_uploads as actions
from grading.exchange.flight_tracks import TrackFound
from grading.models import TrackUpload
from grading.pages.flight_tracks import read_context
from grading.pages.track_uploads import uploads_context
from lessons.access import get_readable_lesson
from school.errors import Refusal
from school.models import Person

MOST_TOGETHER_MB = 30


@require_http_methods(["GET", "POST"])
def track_uploads(request: HttpRequest) -> HttpResponse:
    """Show the files that wait and import others. While some are being read, the page asks for itself."""
    person = _require_staff(request)
    if request.method == "POST":
        chosen = request.FILES.getlist("files")
        # Before any of them is read into memory; a server lets a little more through (.deploy/nginx.conf).
        if sum(file.size for file in chosen) > MOST_TOGETHER_MB * 2**20:
            return _respond_refused(request, f"Together they are larger than {MOST_TOGETHER_MB} MB: choose fewer.")
        files = [(file.name, file.read()) for file in chosen]
        try:
            actions.save_track_uploads(files=files, by=person, at=timezone.now())
        except Refusal as refusal:
            return _respond_refused(request, str(refusal))
        return redirect("grading:track_uploads")
    context = uploads_context(person)
    if request.htmx and request.htmx.target == "heard":
        if request.GET.get("tenths") == str(context["progress"].tenths) and not context["progress"].finished:
            # With 204 htmx leaves the line as it is: read aloud at each poll, it would talk over everything else.
            return HttpResponse(status=204)
        return render(request, "grading/track_uploads.html#heard", context)
    return render(request, f"grading/track_uploads.html{'#waiting' if request.htmx else ''}", context)


@require_GET
def read_track_upload(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show the circuits of one file beside those of its lesson, to keep it by itself."""
    upload = _get_upload(request, uid)
    if upload.found is None:
        raise Http404("Nothing to save was found in this file.")
    found = TrackFound(**upload.found)
    lesson = get_readable_lesson(request.user, uuids.UUID(found.lesson))
    return render(request, "grading/read_flight_track.html", read_context(lesson, found))


@require_POST
def choose_track_lesson(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Say of which lesson a file is."""
    upload = _get_upload(request, uid)
    try:
        chosen = uuids.UUID(request.POST.get("lesson", ""))
    except ValueError:
        return _respond_refused(request, "Choose the lesson that this file is of.")
    lesson = get_readable_lesson(request.user, chosen)
    try:
        actions.choose_lesson(upload=upload, lesson=lesson, by=request.user, at=timezone.now())
    except Refusal as refusal:
        return _respond_refused(request, str(refusal))
    return redirect("grading:track_uploads")


@require_POST
def discard_track_upload(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Delete a file that waits."""
    upload = _get_upload(request, uid)
    try:
        actions.discard_track_upload(upload=upload, by=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.info(request, str(refusal))
    return redirect("grading:track_uploads")


@require_POST
def read_uploads_again(request: HttpRequest) -> HttpResponse:
    """Queue the files that nothing reads."""
    actions.read_again(by=_require_staff(request))
    return redirect("grading:track_uploads")


@require_POST
def keep_track_uploads(request: HttpRequest) -> HttpResponse:
    """Keep the tracks that were shown, each with its lesson."""
    person = _require_staff(request)
    shown = [(uid, lesson) for row in request.POST.getlist("shown") for uid, _, lesson in [row.partition(" ")]]
    if not shown or not all(_is_uid(uid) for uid, _ in shown):
        return _respond_refused(request, "Nothing was chosen to be saved.")
    kept, failed = actions.keep_uploads(shown=shown, by=person, at=timezone.now())
    said = f"{kept} track{'' if kept == 1 else 's'} saved. Nothing of the lessons was changed."
    messages.info(request, said + (f" {failed} could not be saved: see below." if failed else ""))
    return redirect("grading:track_uploads")


def _require_staff(request: HttpRequest) -> Person:
    if not actions.may_upload_tracks(request.user):
        raise PermissionDenied("Flight tracks of lessons are uploaded by the staff.")
    person: Person = request.user
    return person


def _get_upload(request: HttpRequest, uid: uuids.UUID) -> TrackUpload:
    """Return a file of this person; somebody else's is not there."""
    person = _require_staff(request)
    upload: TrackUpload = get_object_or_404(TrackUpload.objects.defer("content"), uid=uid, uploaded_by=person)
    return upload


def _is_uid(text: str) -> bool:
    try:
        uuids.UUID(text)
    except ValueError:
        return False
    return True


def _respond_refused(request: HttpRequest, sentence: str) -> HttpResponse:
    context = {**uploads_context(_require_staff(request)), "refused": sentence}
    return render(request, "grading/track_uploads.html", context, status=422)
