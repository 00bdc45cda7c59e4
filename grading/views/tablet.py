"""Exchange events, pages and forms with an instructor's tablet, for work without network."""

import json
import uuid as uuids
from datetime import UTC, date, datetime
from typing import Any, Literal

import msgspec
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from grading.actions import device_events as tablet_actions
from grading.actions.device_events import WAITS, EventResult, IncomingEvent, LessonStart
from grading.models import DeviceEvent
from grading.pages import device_sync
from grading.pages.lesson_page import TARGET_FIELDS, is_outside_unit
from grading.pages.offline_pack import build_offline_pack, usual_aircraft
from grading.views.fragments import lesson_page_context, render_changes, render_work
from lessons import actions
from lessons.access import can_write_lesson, get_readable_enrolment
from lessons.models import Lesson, Unit
from lessons.rules.scale import Help
from school.accounts import tablets
from school.app_shell import worker_source
from school.current import school_day
from school.errors import Refusal
from school.permissions import can_teach
from school.templatetags.marks import local_time

# Stands in a blank page for the lesson that a tablet will begin; the tablet writes its own name over it.
BLANK_LESSON_UID = uuids.UUID(int=0)
# Entries that change more than the part they name.
WHOLE_CIRCUIT = (".ending", ".took_control", ".shown")
# As many as a tablet sends at once (MOST in sender.js).
MAX_EVENTS = 50


class EventMessage(msgspec.Struct):
    """Describe one event as it is sent.

    `at`: the device's clock in milliseconds since 1970; `seen`: the last tap that the device knew when it was made.
    """

    id: uuids.UUID
    kind: Literal["begin", "entry", "undo"]
    seq: int
    at: int = 0
    seen: int | None = None
    field: str = ""
    value: str = ""
    of: uuids.UUID | None = None
    enrolment: uuids.UUID | None = None
    unit: int | None = None
    on: date | None = None
    aircraft: int | None = None
    reason: str = ""


class EventBatch(msgspec.Struct):
    """Describe the events of one lesson, as the open page sends them.

    `since`: the last tap that the device knows; `circuit`: the circuit on its pad; `show`: the pieces it wants;
    `sent`: the device's clock as it sends, in milliseconds.
    """

    person: int
    device: uuids.UUID
    events: list[EventMessage]
    since: int = 0
    sent: int = 0
    circuit: int | None = None
    show: Literal["", "changed", "all"] = ""


@require_POST
def tablet_events(request: HttpRequest, uid: uuids.UUID) -> JsonResponse:
    """Apply the events of one lesson in their order; answer the outcome of each and what others changed meanwhile."""
    if not _can_send(request, uid):
        return JsonResponse({"sentence": "Only an instructor may give lessons and write in them."}, status=403)
    if request.content_type != "application/json":
        return JsonResponse({"sentence": "The school could not read what the tablet sent: it is not JSON."}, status=400)
    try:
        # Half a character, as a keyboard may leave it, is no reason to refuse all the others: json reads it.
        sent = msgspec.convert(json.loads(request.body), type=EventBatch)
    except (ValueError, RecursionError, msgspec.MsgspecError) as error:
        return JsonResponse({"sentence": f"The school could not read what the tablet sent: {error}."}, status=400)
    # Taps wait on a tablet for the person who made them: the next one must not send them as their own.
    if sent.person != request.user.pk:
        return JsonResponse({"sentence": "Somebody else is logged in on this tablet."}, status=409)
    if len(sent.events) > MAX_EVENTS:
        return JsonResponse({"sentence": f"More than {MAX_EVENTS} events at once."}, status=400)
    events = [_parse_event(event, sent) for event in sent.events]
    taken = tablet_actions.apply_events(lesson_uid=uid, events=events, by=request.user, at=timezone.now())
    return JsonResponse(_batch_response(request, uid, sent, taken))


def _can_send(request: HttpRequest, uid: uuids.UUID) -> bool:
    """Return whether a person may send events: instructors, and a former one for a lesson of their own.

    The events of a former instructor are stored as refused, so that nothing which the tablet holds is lost.
    """
    return can_teach(request.user) or Lesson.objects.filter(uid=uid, instructor=request.user).exists()


def _parse_event(event: EventMessage, batch: EventBatch) -> IncomingEvent:
    beginning = None
    if event.enrolment and event.unit and event.on:
        reason = _storable_text(event.reason)
        beginning = LessonStart(event.enrolment, event.unit, event.on, event.aircraft, reason)
    return IncomingEvent(
        uid=event.id,
        kind=event.kind,
        # The column is a positive 32-bit integer: a number outside would fail the whole batch.
        sequence=max(0, min(event.seq, 2**31 - 1)),
        device=batch.device,
        device_time=_device_time(event.at),
        field=_storable_text(event.field),
        value=_storable_text(event.value),
        undoes=event.of,
        beginning=beginning,
        sent_time=_device_time(batch.sent) if batch.sent and event.at else None,
        # As it was made and not as it is sent: an answer may have come between.
        seen=_tap_number(batch.since if event.seen is None else event.seen),
    )


def _tap_number(sent: int) -> int:
    """Return a number of a tap within the range of its column."""
    return max(0, min(sent, 2**63 - 1))


def _storable_text(value: str) -> str:
    """Return the text as PostgreSQL can store it: without NUL and without lone surrogates."""
    return value.replace("\x00", "").encode("utf-8", "replace").decode()


def _device_time(milliseconds: int) -> datetime | None:
    """Return the device's time; None where its clock shows a time that no calendar has."""
    try:
        return datetime.fromtimestamp(milliseconds / 1000, UTC)
    except (OverflowError, OSError, ValueError):
        return None


def _batch_response(
    request: HttpRequest, uid: uuids.UUID, sent: EventBatch, taken: list[EventResult]
) -> dict[str, Any]:
    # Another instructor's lesson is answered like a missing one: its address must tell nothing.
    lesson = Lesson.objects.for_entries().filter(uid=uid, instructor=request.user).first()
    if lesson is None:
        return {
            "state": "waits" if any(row.event.outcome == WAITS for row in taken) else "gone",
            "since": 0,
            "results": _describe_results(taken, {}, {}),
            "changes": [],
            "html": "",
            "as_of": _as_of(),
        }
    # Read before the pieces are made: a tap that falls between is told the next time.
    taps, own = device_sync.taps_since(lesson, sent.since), {row.event.uid for row in taken}
    others = [tap for tap in taps if tap.uid not in own]
    # Only a refused field needs the version on record: without one the query is saved.
    refused = {row.event.field for row in taken if row.event.outcome == DeviceEvent.Outcome.REFUSED}
    return {
        "state": "writing" if can_write_lesson(request.user, lesson) else "signed",
        "since": max([sent.since, *(tap.pk for tap in taps)]),
        "results": _describe_results(
            taken, device_sync.last_tap_by_field(lesson, refused) if refused else {}, {tap.field: tap for tap in others}
        ),
        "changes": [device_sync.describe_change(tap) for tap in others[-device_sync.MAX_CHANGES :]],
        "html": _changed_html(request, lesson, sent, taken, bool(others)),
        "as_of": _as_of(),
    }


def _as_of() -> str:
    return local_time(timezone.now())


def _describe_results(
    taken: list[EventResult], standing: dict[str, Any], replaced: dict[str, Any]
) -> list[dict[str, object]]:
    return [device_sync.describe_outcome(row, standing, replaced) for row in taken]


def _changed_html(request: HttpRequest, found: Lesson, sent: EventBatch, taken: list[EventResult], others: bool) -> str:
    """Render the pieces that changed; all of the work where more changed than single entries."""
    if not sent.show or not can_write_lesson(request.user, found):
        return ""
    fields = [row.event.field for row in taken if row.event.outcome == DeviceEvent.Outcome.APPLIED]
    # Beginning a lesson and undoing can touch any part of the page.
    whole = any(row.event.kind != DeviceEvent.Kind.ENTRY for row in taken)
    whole = whole or any(field.endswith(WHOLE_CIRCUIT) for field in fields)
    # One that is opened again loses the levels that its closing gave.
    whole = whole or any(row.event.field.endswith(".closed") and not row.event.value for row in taken)
    whole = whole or any(is_outside_unit(found, field) for field in fields)
    # An older tablet sends it by itself: it is no key of a part any more.
    whole = whole or any(row.event.value == Help.TOOK_CONTROL for row in taken)
    # The pad shows what was tapped: after a refusal, or an entry that came late, it is put right.
    whole = whole or any(row.event.outcome != DeviceEvent.Outcome.APPLIED for row in taken)
    # The keys of the pads name the target of a gate, and that changes with the gust and the aircraft.
    whole = whole or not TARGET_FIELDS.isdisjoint(fields)
    # What another device wrote is not among these events and may be anywhere on the page.
    if sent.show == "all" or others or whole:
        return render_work(request, Lesson.objects.for_pages().get(pk=found.pk), sent.circuit)
    return render_changes(request, found, sent.circuit, fields) if fields else ""


@login_not_required
@require_GET
def tablet(request: HttpRequest) -> HttpResponse:
    """Show the lessons on this tablet. The tablet fills the page itself, which holds no personal data."""
    return render(request, "grading/tablet.html")


@login_not_required
@require_GET
def session_check(request: HttpRequest) -> JsonResponse:
    """Return who is logged in, the token that their forms need now, and what opens the taps sealed on their tablet.

    Where nobody is: whether the session was ended for which the tablet has a ticket. It empties itself then.
    """
    if not request.user.is_authenticated:
        return JsonResponse({"ended": tablets.was_ended(request.headers.get("Tablet-Ticket", ""))}, status=401)
    # A saved page has an old token: its tablet asks for the present one before it sends.
    person = request.user.pk
    return JsonResponse({"person": person, "token": get_token(request), "keys": tablets.private_keys(person)})


@require_GET
def offline_pack(request: HttpRequest) -> JsonResponse:
    """Send what this instructor's tablet stores: lessons being written or of today, students with their next units."""
    if not can_teach(request.user):
        raise PermissionDenied("Only an instructor may give lessons.")
    return JsonResponse(build_offline_pack(request.user, school_day(timezone.now())))


@require_GET
def blank_lesson(request: HttpRequest, uid: uuids.UUID, unit: int) -> HttpResponse:
    """Render the page of a lesson that a tablet may begin without network, and leave nothing in the database."""
    enrolment = get_readable_enrolment(request.user, uid)
    if not can_teach(request.user):
        raise PermissionDenied("Only an instructor may give lessons.")
    chosen = get_object_or_404(Unit.objects.select_related("stage"), pk=unit)
    now = timezone.now()
    with transaction.atomic():
        try:
            lesson = actions.begin_lesson(
                enrolment=enrolment,
                unit=chosen,
                on=school_day(now),
                instructor=request.user,
                by=request.user,
                at=now,
                aircraft=usual_aircraft(enrolment),
                uid=BLANK_LESSON_UID,
            )
            return render(request, "grading/lesson.html", lesson_page_context(lesson, None, transient=True))
        except Refusal as refusal:
            raise Http404(str(refusal)) from refusal
        finally:
            # The page needs a lesson with all its relations, and the school no lesson of it: nothing is committed.
            transaction.set_rollback(True)


@login_not_required
@require_GET
def service_worker(request: HttpRequest) -> HttpResponse:
    """Send the script that answers without network, from the root, so that it answers for every page."""
    response = HttpResponse(worker_source(reverse("grading:tablet")), content_type="text/javascript; charset=utf-8")
    # Asked for again each time, so that a new version reaches every tablet.
    response["Cache-Control"] = "no-cache"
    response["Service-Worker-Allowed"] = "/"
    return response
