"""Show the board of all students, one student before first solo, and the student's own page."""

import uuid as uuids
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from functools import partial

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.db.models import Count
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from grading.actions import decisions
from grading.actions.board_views import remove_board_view, save_board_view
from grading.actions.endorsements import last_training_by
from grading.actions.training import enrolments_awaiting_certification
from grading.forms.training import ReleaseForm
from grading.models import Release, SetAside
from grading.operations import release_mail
from grading.pages.before_solo import readiness_details, release_decision
from grading.pages.board import (
    ROW_FORMS,
    ROWS_PER_PAGE,
    SORT_ORDERS,
    board_rows,
    filter_keys,
    query_text,
    render_csv,
    saved_views,
)
from grading.pages.expected_wind import expected_wind_context
from grading.pages.first_steps import is_school_new
from grading.pages.own_progress import own_progress_context
from grading.reading import verdict_cache
from grading.reading.board_query import (
    BoardRequest,
    board_choices,
    count_rows,
    count_unsigned_by_instructor,
    select_rows,
    unsigned_lessons,
)
from grading.reading.expiring import expiries_of_instructors
from lessons.access import get_readable_enrolment
from lessons.fields import is_plausible_date
from lessons.models import Enrolment
from lessons.queries import instructor_excesses
from school.citations import follows_us_rules
from school.current import school_day
from school.downloads import content_disposition
from school.errors import Refusal
from school.fragment_cache import CachedFragment
from school.permissions import can_decide, can_reassign, can_see_all_students, can_see_settings

EXCESS_WINDOW_DAYS = 30
YEAR_SECONDS = 365 * 24 * 3600


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """Redirect to the page that a person works on most."""
    person = request.user
    if can_see_settings(person) and is_school_new():
        return redirect("grading:first_steps")
    if person.is_chief:
        return redirect("grading:board")
    if person.is_instructor:
        return redirect("grading:lessons")
    if person.is_records_admin:
        return redirect("grading:records")
    return redirect("grading:own_progress")


@require_GET
def board(request: HttpRequest) -> HttpResponse:
    """Show every student in training: who must act, how near the next is, a page of fifty at a time."""
    today, asked = _board_request(request)
    counts = count_rows(asked, today)
    page = Paginator(select_rows(asked, today), ROWS_PER_PAGE).get_page(request.GET.get("page"))
    views = saved_views(request.user.board_views, asked)
    context = {
        "rows": board_rows(page.object_list, today, grouped=not asked.sort),
        "page": page,
        "before": query_text(asked, page.number - 1),
        "after": query_text(asked, page.number + 1),
        "counts": counts,
        "filters": filter_keys(asked, counts, count_unsigned_by_instructor(asked, today)),
        "choices": board_choices(today),
        "sorted": SORT_ORDERS,
        "asked": asked,
        "narrowed": any(asked._replace(show="", sort="")),
        "query": query_text(asked),
        "now": timezone.now(),
        "can_reassign": can_reassign(request.user),
        "views": views,
        "chosen_view": next((view.name for view in views if view.chosen), ""),
        "can_save": any(asked._replace(q="")),
        "asked_fields": [(name, value) for name, value in asked._asdict().items() if value],
        "row_form": _row_form(request),
        "row_forms": ROW_FORMS,
    }
    if can_decide(request.user):
        # Shown and never refused: a record must say what happened (14 CFR 61.195(a)).
        # Under these rules only: no European limit was read.
        if follows_us_rules():
            context["excesses"] = instructor_excesses(today - timedelta(days=EXCESS_WINDOW_DAYS), today)
        context["ended"] = enrolments_awaiting_certification()
        context["certificates"] = expiries_of_instructors(today)
        context["excess_window_days"] = EXCESS_WINDOW_DAYS
    return render(request, "grading/board.html", context)


@require_POST
def board_choice(request: HttpRequest) -> HttpResponse:
    """Save or remove a view of the reader's own, or choose how roomy the rows are; then show the board again."""
    if not can_see_all_students(request.user):
        raise PermissionDenied("The list of students is for staff.")
    asked = BoardRequest(**{name: request.POST.get(name, "").strip()[:60] for name in BoardRequest._fields})
    name, act, now = request.POST.get("name", ""), request.POST.get("act", ""), timezone.now()
    response = redirect(f"{reverse('grading:board')}{query_text(asked)}")
    try:
        if act == "save":
            save_board_view(name=name, asked=asked, by=request.user, at=now)
            messages.info(request, f"The view “{' '.join(name.split())}” is saved on your account.")
        elif act == "remove":
            remove_board_view(name=name, by=request.user, at=now)
            messages.info(request, f"The view “{name}” is removed. No student is concerned.")
    except Refusal as refusal:
        messages.warning(request, str(refusal))
    if (rows := request.POST.get("rows")) in dict(ROW_FORMS):
        # Of this device, as the display is: a desk and a tablet have not the same room.
        response.set_cookie(
            settings.ROWS_COOKIE, rows, YEAR_SECONDS, httponly=True, samesite="Lax", secure=request.is_secure()
        )
    return response


def _row_form(request: HttpRequest) -> str:
    # A cookie is text from outside: only a known form reaches the page.
    asked = request.COOKIES.get(settings.ROWS_COOKIE, "")
    return asked if asked in dict(ROW_FORMS) else ROW_FORMS[0][0]


@require_GET
def board_csv(request: HttpRequest) -> HttpResponse:
    """Send the same rows, of all pages, as a file for a spreadsheet."""
    today, asked = _board_request(request)
    waiting = unsigned_lessons(today).filter(enrolment__in=Enrolment.objects.active(today))
    unsigned = dict(waiting.values_list("enrolment").annotate(Count("pk")).order_by())
    return HttpResponse(
        render_csv(select_rows(asked, today), unsigned),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": content_disposition(f"students-{today.isoformat()}.csv")},
    )


def _board_request(request: HttpRequest) -> tuple[date, BoardRequest]:
    """Return today and what was asked for, once what is stored of every student in training is true."""
    if not can_see_all_students(request.user):
        raise PermissionDenied("The list of students is for staff.")
    today = school_day(timezone.now())
    verdict_cache.derive_missing(Enrolment.objects.active(today).for_pages(), today)
    return today, BoardRequest(**{name: request.GET.get(name, "").strip()[:60] for name in BoardRequest._fields})


@require_GET
def readiness(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show one student before first solo: the verdict, every reason, the circuits, the decision."""
    enrolment = _enrolment_for_staff(request, uid)
    return render(
        request, "grading/readiness.html", readiness_page_context(request, enrolment, _requested_day(request))
    )


@require_POST
def set_aside_requirement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Set a requirement of the school aside, by decision of the chief instructor."""
    enrolment = _enrolment_for_staff(request, uid)
    reason, requirement = request.POST.get("reason", ""), request.POST.get("requirement", "")
    try:
        decisions.set_aside_requirement(
            enrolment=enrolment, requirement=requirement, reason=reason, by=_require_chief(request), at=timezone.now()
        )
    except Refusal as refusal:
        said = {"refused_requirement": requirement, "refused_sentence": str(refusal), "refused_reason": reason}
        context = readiness_page_context(request, enrolment, **said)
        return render(request, "grading/readiness.html", context, status=422)
    messages.info(request, f"The requirement is set aside for {enrolment.student}, with your reason.")
    return redirect("grading:readiness", enrolment.uid)


@require_POST
def reinstate_requirement(request: HttpRequest, uid: uuids.UUID, requirement: str) -> HttpResponse:
    """Reinstate a requirement that was set aside."""
    enrolment = _enrolment_for_staff(request, uid)
    chief = _require_chief(request)
    decided = SetAside.objects.filter(enrolment=enrolment, requirement=requirement, withdrawn_at=None).first()
    if decided is None:
        raise Http404("Nothing is set aside there.")
    decisions.reinstate_requirement(requirement_set_aside=decided, by=chief, at=timezone.now())
    messages.info(request, f"The requirement holds again for {enrolment.student}.")
    return redirect("grading:readiness", enrolment.uid)


@require_POST
def sign_release(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Sign a release for solo flight."""
    enrolment = _enrolment_for_staff(request, uid)
    if not decisions.can_release(request.user):
        raise PermissionDenied("Only the chief instructor may decide this.")
    now = timezone.now()
    trained = last_training_by(enrolment.instructor, enrolment, school_day(now))
    last = Release.objects.filter(enrolment=enrolment).order_by("-pk").first()
    form = ReleaseForm(request.POST, enrolment=enrolment, on=school_day(now), trained_on=trained, last=last)
    if form.is_valid():
        names = ("kind", "valid_from", "valid_until", "endorsed_by", "reason", "secret")
        asked = {name: form.cleaned_data[name] for name in names}
        try:
            release = decisions.sign_release(
                enrolment=enrolment, limits=form.limits(), **asked, by=request.user, at=now
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"{enrolment.student} is released for solo within the limits written here.")
            tell_of_change(request, [release], now)
            return redirect("grading:readiness", enrolment.uid)
    context = {**readiness_page_context(request, enrolment), "form": form}
    return render(request, "grading/readiness.html", context, status=422)


@require_POST
def withdraw_release(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Withdraw a release, which ends it at once."""
    if not can_see_all_students(request.user):
        raise Http404("There is no such release for you.")
    released = Release.objects.select_related("enrolment__student").filter(uid=uid).first()
    if released is None:
        raise Http404("There is no such release for you.")
    reason, now = request.POST.get("reason", ""), timezone.now()
    try:
        # Every instructor may: ending a release must not wait for the chief instructor.
        released = decisions.withdraw_release(release=released, reason=reason, by=request.user, at=now)
    except Refusal as refusal:
        said = {"withdrawing": released.pk, "withdraw_error": str(refusal), "withdraw_reason": reason}
        context = readiness_page_context(request, released.enrolment, **said)
        return render(request, "grading/readiness.html", context, status=422)
    messages.info(request, f"The release of {released.enrolment.student} is withdrawn: no solo until a new one.")
    tell_of_change(request, [released], now)
    return redirect("grading:readiness", released.enrolment.uid)


@require_POST
def confirm_withdrawal(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Record that the student has read the withdrawal of their release."""
    if can_see_all_students(request.user):
        raise PermissionDenied("The student confirms it.")
    released = Release.objects.select_related("enrolment").filter(uid=uid, enrolment__student=request.user).first()
    if released is None:
        raise Http404("There is no such release of yours.")
    try:
        decisions.confirm_withdrawal(release=released, by=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.warning(request, str(refusal))
    else:
        messages.info(request, "Confirmed. Your chief instructor sees that you have read it.")
    return redirect("grading:own_progress")


def tell_of_change(request: HttpRequest, releases: Sequence[Release], at: datetime) -> None:
    """E-mail whom the releases concern, after what was signed; say who is left to be told by word of mouth."""
    if untold := release_mail.tell_of_change(releases, school_day(at), by=request.user):
        messages.warning(request, untold)


@require_GET
def own_progress(request: HttpRequest) -> HttpResponse:
    """Show a student their own progress: what is done, what comes next, what to work on."""
    today = school_day(timezone.now())
    enrolment = Enrolment.objects.active(today).for_pages().filter(student=request.user).order_by("-pk").first()
    if enrolment is None:
        return render(request, "grading/own_progress.html", {"enrolment": None})
    stored, row = verdict_cache.get_or_derive_one(enrolment, today)
    # By the stamp of the stored verdict, which every entry about the student makes stale.
    page = CachedFragment(f"own-progress:{stored.name}", partial(own_progress_context, enrolment, today, row))
    # Outside of what is cached: it depends on the wind that is typed.
    expected = expected_wind_context(enrolment, today, request.GET)
    return render(request, "grading/own_progress.html", {"enrolment": enrolment, "page": page, **expected})


def _enrolment_for_staff(request: HttpRequest, uid: uuids.UUID) -> Enrolment:
    enrolment = get_readable_enrolment(request.user, uid)
    # 403 and not 404: students know that their own enrolment exists.
    if not can_see_all_students(request.user):
        raise PermissionDenied("Your progress is on your own page.")
    return enrolment


def _require_chief(request: HttpRequest):  # type: ignore[no-untyped-def] # the request's Person
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor may decide this.")
    return request.user


def _requested_day(request: HttpRequest) -> date | None:
    """Return the past day in the query; None for today, for an invalid day and for a future one."""
    try:
        asked = date.fromisoformat(request.GET.get("on", ""))
    except ValueError:
        return None
    return asked if is_plausible_date(asked) and asked < school_day(timezone.now()) else None


def readiness_page_context(
    request: HttpRequest, enrolment: Enrolment, on: date | None = None, **said: object
) -> dict[str, object]:
    """Return the context of the page. As of a past day nothing can be decided and only what was signed by then shows.

    `said`: the fields of a refused form, with the sentence.
    """
    person, today = request.user, on or school_day(timezone.now())
    context: dict[str, object] = {"enrolment": enrolment, "past": on, "today": today, **said}
    if on is not None:
        return context | {
            "page": CachedFragment("", partial(readiness_details, enrolment, on, person, can_decide=False))
        }
    stored, row = verdict_cache.get_or_derive_one(enrolment, today)
    fill = partial(readiness_details, enrolment, today, person, row, can_decide=can_decide(person))
    # A refused form is not cached. Person and roles are in the stamp: they decide which actions the page offers.
    stamp = "" if said else f"readiness:{stored.name}:{person.pk}:{'+'.join(person.roles)}"
    # Outside the cached part: the form of a release rests on more than the verdict.
    if decisions.can_release(person):
        context |= release_decision(enrolment, today, stored) | {"can_release": True}
    return context | {"page": CachedFragment(stamp, fill)}
