"""Show the flight tracks of a lesson; read one, keep it once a person has confirmed what was read, and remove it."""

import uuid as uuids

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from grading.actions import flight_tracks as actions
from grading.actions.flight_tracks import keep_track, may_keep_track, may_remove_track, remove_track
from grading.actions.track_uploads import forget_file
from grading.exchange.flight_files.write_gpx import write_gpx
from grading.exchange.flight_tracks import open_found, read_track
from grading.models import FlightTrack
from grading.pages.flight_tracks import circuit_context, read_context, tracks_context
from lessons.access import get_readable_lesson, get_writable_lesson
from lessons.models import Lesson
from lessons.rules.flight_track.packed_track import unpack_positions
from school.downloads import content_disposition
from school.errors import Refusal

NUMBER_PREFIX = "circuit."


@require_GET
def flight_tracks(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show the tracks that are kept with a lesson, and the form for another one."""
    found = get_readable_lesson(request.user, uid)
    return render(request, "grading/flight_tracks.html", tracks_context(found, request.user))


@require_POST
def read_flight_track(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show what is in a file, measured. Nothing of it is stored."""
    lesson = _get_lesson_to_keep(request, uid)
    file = request.FILES.get("file")
    if file is None:
        return _respond_refused(request, lesson, "Choose a file of the logger.")
    try:
        found = read_track(lesson, file.read(), request.user)
    except Refusal as refusal:
        return _respond_refused(request, lesson, str(refusal))
    return render(request, "grading/read_flight_track.html", read_context(lesson, found))


@require_POST
def keep_flight_track(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Keep what was shown, with the circuits as the person has matched them."""
    lesson = _get_lesson_to_keep(request, uid)
    try:
        found = open_found(request.POST.get("found", ""), lesson, request.user)
        track = keep_track(lesson=lesson, found=found, numbers=_numbers(request), by=request.user, at=timezone.now())
        forget_file(sha256=track.sha256, by=request.user)
    except Refusal as refusal:
        return _respond_refused(request, lesson, str(refusal))
    messages.info(request, "The track is kept with this lesson. Nothing of the lesson was changed.")
    return redirect("grading:track_circuit", lesson.uid, track.uid, 1)


@require_POST
def remove_flight_track(request: HttpRequest, uid: uuids.UUID, track: uuids.UUID) -> HttpResponse:
    """Remove a track with its readings."""
    lesson = get_readable_lesson(request.user, uid)
    if not may_remove_track(request.user, lesson):
        raise PermissionDenied(
            "A track is removed by its student, the instructor of the lesson, or the school’s office."
        )
    try:
        remove_track(track=_get_track(lesson, track), by=request.user, at=timezone.now())
    except Refusal as refusal:
        return _respond_refused(request, lesson, str(refusal))
    messages.info(request, "The track is removed: where the aircraft was is no longer stored.")
    return redirect("grading:flight_tracks", lesson.uid)


@require_GET
def flight_track_file(request: HttpRequest, uid: uuids.UUID, track: uuids.UUID) -> HttpResponse:
    """Send the positions that are kept of a track, as GPX."""
    lesson = get_readable_lesson(request.user, uid)
    found = _get_track(lesson, track)
    if not found.has_positions:
        raise Http404("The positions of this track are no longer stored.")
    fixes = unpack_positions(bytes(found.positions), by_pressure=found.by_pressure)
    name = content_disposition(f"track-{lesson.on.isoformat()}-lesson-{lesson.number}.gpx")
    return HttpResponse(write_gpx(fixes), content_type="application/gpx+xml", headers={"Content-Disposition": name})


@require_GET
def track_circuit(request: HttpRequest, uid: uuids.UUID, track: uuids.UUID, place: int) -> HttpResponse:
    """Show one circuit of a track: where it was flown, and the readings at the gates with their uncertainty."""
    lesson = get_readable_lesson(request.user, uid)
    return render(request, "grading/track_circuit.html", circuit_context(lesson, track, place, request.user))


@require_POST
def enter_readings(request: HttpRequest, uid: uuids.UUID, track: uuids.UUID, place: int) -> HttpResponse:
    """Enter the readings of one circuit as numbers of the lesson, for its instructor before signing."""
    lesson = get_writable_lesson(request.user, uid)
    kept = _get_track(lesson, track)
    try:
        many = actions.enter_readings(lesson=lesson, track=kept, place=place, by=request.user, at=timezone.now())
    except Refusal as refusal:
        return _respond_refused(request, lesson, str(refusal))
    messages.info(request, f"{many} number{'' if many == 1 else 's'} entered from the track, each marked as from it.")
    return redirect("grading:track_circuit", lesson.uid, track, place)


@require_POST
def grade_track_circuit(request: HttpRequest, uid: uuids.UUID, track: uuids.UUID, place: int) -> HttpResponse:
    """Make a circuit of the lesson of one that nobody tapped, for its instructor before signing."""
    lesson = get_writable_lesson(request.user, uid)
    kept = _get_track(lesson, track)
    try:
        number = actions.grade_circuit(lesson=lesson, track=kept, place=place, by=request.user, at=timezone.now())
    except Refusal as refusal:
        return _respond_refused(request, lesson, str(refusal))
    messages.info(request, f"It is circuit {number} of the lesson now: grade it there like any other.")
    return redirect("grading:track_circuit", lesson.uid, track, place)


def _get_lesson_to_keep(request: HttpRequest, uid: uuids.UUID) -> Lesson:
    lesson = get_readable_lesson(request.user, uid)
    if not may_keep_track(request.user, lesson):
        raise PermissionDenied(
            "A track is kept by the instructor of the lesson, the chief instructor or the administrator."
        )
    return lesson


def _get_track(lesson: Lesson, uid: uuids.UUID) -> FlightTrack:
    """Return a track of any version of a lesson."""
    rows = FlightTrack.objects.filter(
        lesson__enrolment=lesson.enrolment_id, lesson__number=lesson.number, uid=uid, removed_at=None
    )
    found = rows.select_related("lesson__enrolment").first()
    if found is None:
        raise Http404("There is no such track with this lesson.")
    return found


def _numbers(request: HttpRequest) -> dict[int, int | None]:
    """Return the circuit of the lesson by the place of the measured one; None where it is said to be none."""
    chosen: dict[int, int | None] = {}
    for name, value in request.POST.items():
        place = name.removeprefix(NUMBER_PREFIX)
        if name.startswith(NUMBER_PREFIX) and _is_number(place):
            chosen[int(place)] = int(value) if _is_number(value) else None
    return chosen


def _is_number(text: str) -> bool:
    # Three digits at most: `int` refuses very long ones, and no lesson has a thousand circuits.
    return text.isascii() and text.isdigit() and len(text) < 4


def _respond_refused(request: HttpRequest, lesson: Lesson, sentence: str) -> HttpResponse:
    context = {**tracks_context(lesson, request.user), "refused": sentence}
    return render(request, "grading/flight_tracks.html", context, status=422)
