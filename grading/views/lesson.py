"""Show the lesson page and take its plain forms, which need no JavaScript; single taps go to views/tablet.py."""

import uuid as uuids

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from grading.actions import corrections, discarding, late_answers, recording, signing
from grading.models import Signature
from grading.operations import signed_mail
from grading.pages.record_page import lesson_record_context
from grading.reading.lesson_stamp import read_lesson_stamp
from grading.views.fragments import kept_lesson_page, lesson_page_context
from lessons.access import can_write_lesson, get_readable_discarded, get_readable_lesson, get_writable_lesson
from lessons.models import Lesson
from school.accounts.emails import EmailNotSent
from school.errors import Refusal
from school.permissions import can_teach

NON_ENTRY_FIELDS = {"csrfmiddlewaretoken", "circuit"}


@require_GET
def lesson(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show the page on which its instructor records the lesson; to everybody else, and once signed, its record."""
    # Before the lesson: what is written between the two must not be kept under this stamp.
    stamp = read_lesson_stamp(uid, request.user.pk) if can_teach(request.user) else None
    rows = Lesson.objects.for_kept_pages() if stamp else None
    found = get_readable_lesson(request.user, uid, rows)
    if stamp is None or not can_write_lesson(request.user, found):
        context = lesson_record_context(found, request.user)
        return render(request, "grading/lesson_record.html", context)
    answer = render(request, "grading/lesson.html", kept_lesson_page(found, stamp, _circuit_number(request)))
    answer.headers["Kept-For"] = str(request.user.pk)  # whose tablet may keep it
    return answer


@require_POST
def save_entries(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Apply everything that a plain form shows, together or not at all."""
    found = get_writable_lesson(request.user, uid)
    number = _circuit_number(request)
    written = _posted_entries(request)
    try:
        recording.record_entries(
            lesson=found,
            entries=written,
            by=request.user,
            at=timezone.now(),
        )
    except recording.EntryRefused as refusal:
        return _respond_refused(request, found, number, str(refusal), written, refusal.field)
    except Refusal as refusal:
        return _respond_refused(request, found, number, str(refusal), written)
    return _redirect_to_entries(found)


@require_POST
def undo_tap(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Undo the last tap."""
    found = get_writable_lesson(request.user, uid)
    try:
        recording.undo_tap(lesson=found, by=request.user, at=timezone.now())
    except Refusal as refusal:
        return _respond_refused(request, found, None, str(refusal), {})
    return _redirect_to_entries(found)


@require_POST
def answer_late_entry(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Take the instructor's answer: which of two tablets' entries stays."""
    found = get_writable_lesson(request.user, uid)
    try:
        event = uuids.UUID(request.POST.get("event", ""))
        take = {"late": True, "standing": False}[request.POST.get("keep", "")]
    except (ValueError, KeyError):
        return _respond_refused(request, found, None, "Choose which entry is right.", {})
    try:
        late_answers.answer_late_entry(
            lesson=found, event_uid=event, take_late=take, by=request.user, at=timezone.now()
        )
    except Refusal as refusal:
        return _respond_refused(request, found, None, str(refusal), {})
    return redirect("grading:lesson", found.uid)


@require_POST
def sign_lesson(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Sign the lesson for its instructor, which makes it final."""
    found = get_writable_lesson(request.user, uid)
    try:
        signing.sign_lesson(
            lesson=found,
            secret=request.POST.get("secret", ""),
            drawn=request.POST.get("drawn", ""),
            by=request.user,
            at=timezone.now(),
        )
    except Refusal as refusal:
        context = {
            **lesson_page_context(found, None),
            **_signature_error(refusal),
            # The handwriting is shown again after a refusal; the password never leaves the server.
            "drawn": request.POST.get("drawn", ""),
        }
        return render(request, "grading/lesson.html", context, status=422)
    messages.info(request, f"{found} is signed and final. {found.enrolment.student} is asked to acknowledge it.")
    # After the signature, which holds whether or not the student can be told.
    try:
        signed_mail.tell_student(found)
    except EmailNotSent:
        messages.warning(
            request, f"The e-mail to {found.enrolment.student} was not sent: the mail server does not answer."
        )
    return redirect("grading:lesson", found.uid)


@require_POST
def discard_lesson(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Take a lesson that was never signed out of the lessons, for a written reason."""
    found = get_writable_lesson(request.user, uid)
    reason = request.POST.get("reason", "")
    try:
        discarding.discard_lesson(lesson=found, reason=reason, by=request.user, at=timezone.now())
    except Refusal as refusal:
        found = get_writable_lesson(request.user, uid)  # signed meanwhile, it has no form that could show the sentence
        context = {**lesson_page_context(found, None), "discard_error": str(refusal), "discard_reason": reason}
        return render(request, "grading/lesson.html", context, status=422)
    messages.info(request, f"Lesson {found.number} is discarded. What was entered stays on record with the reason.")
    return redirect("grading:lessons")


@require_GET
def discarded_lesson(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show a discarded lesson with every entry, to the staff and to its student."""
    return render(request, "grading/discarded_lesson.html", {"lesson": get_readable_discarded(request.user, uid)})


@require_POST
def acknowledge_lesson(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Let the student sign the lesson, or refuse to with a remark."""
    found = get_readable_lesson(request.user, uid)
    try:
        signature = signing.acknowledge_lesson(
            lesson=found,
            secret=request.POST.get("secret", ""),
            remark=request.POST.get("remark", ""),
            drawn=request.POST.get("drawn", ""),
            refuse=request.POST.get("act") == Signature.Act.REFUSED,
            by=request.user,
            at=timezone.now(),
        )
    except Refusal as refusal:
        context = {
            **lesson_record_context(found, request.user),
            **_signature_error(refusal),
            "remark": request.POST.get("remark", ""),
            "drawn": request.POST.get("drawn", ""),
        }
        return render(request, "grading/lesson_record.html", context, status=422)
    messages.info(request, f"Kept: you {signature.get_act_display()} lesson {found.number}.")
    return redirect("grading:lesson", found.uid)


@require_POST
def correct_lesson(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Begin a new version of a signed lesson."""
    found = get_readable_lesson(request.user, uid)
    reason = request.POST.get("reason", "")
    try:
        version = corrections.begin_correction(lesson=found, reason=reason, by=request.user, at=timezone.now())
    except Refusal as refusal:
        context = {**lesson_record_context(found, request.user), "correct_error": str(refusal), "reason": reason}
        return render(request, "grading/lesson_record.html", context, status=422)
    return redirect("grading:lesson", version.uid)


def _signature_error(refusal: Refusal) -> dict[str, str]:
    """Say a wrong password at its field, and anything else above the form."""
    return {"secret_error" if isinstance(refusal, signing.WrongPassword) else "sign_error": str(refusal)}


def _circuit_number(request: HttpRequest) -> int | None:
    asked = request.GET.get("circuit", "") or request.POST.get("circuit", "")
    # Three digits at most: `int` refuses very long ones, and no lesson has a thousand circuits.
    return int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 4 else None


def _posted_entries(request: HttpRequest) -> dict[str, str]:
    sent = request.POST
    # A checkbox follows a hidden input of the same name, so that an empty one is sent too; the last counts.
    return {name: sent[name] for name in sent if name not in NON_ENTRY_FIELDS}


def _redirect_to_entries(found: Lesson) -> HttpResponse:
    anchor = "#circuits" if found.unit.flies_circuits else "#grades"
    return redirect(reverse("grading:lesson", args=[found.uid]) + anchor)


def _respond_refused(
    request: HttpRequest, found: Lesson, number: int | None, sentence: str, typed: dict[str, str], field: str = ""
) -> HttpResponse:
    found = Lesson.objects.for_pages().get(pk=found.pk)  # as it stands without what was refused
    context = {**lesson_page_context(found, number, typed), "entry_error": sentence, "refused_field": field}
    return render(request, "grading/lesson.html", context, status=422)
