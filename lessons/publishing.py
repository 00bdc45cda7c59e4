"""Change gates and syllabuses for the chief instructor: drafts and publishing."""

from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Max

from lessons.gate_draft import Raw, parse_raw, raw_from_spec
from lessons.loading import gate_set_spec, home_runways, load_gates, publish_syllabus, stall_speeds, syllabus_form
from lessons.models import GateDraft, GateSet, Syllabus, SyllabusDraft
from lessons.rules.differences import gate_differences, syllabus_differences
from lessons.rules.gate_rules import GateSetSpec
from lessons.syllabus_file import SyllabusForm, to_content, validate_content
from school import journal
from school.current import school_day
from school.errors import Refusal
from school.formats import write_day
from school.models import AircraftType, Person
from school.reasons import required_text


def latest_gate_set(aircraft_type: AircraftType) -> GateSet | None:
    return GateSet.objects.filter(aircraft_type=aircraft_type, published=True).order_by("-issue").first()


def next_gate_issue(aircraft_type: AircraftType) -> int:
    last = latest_gate_set(aircraft_type)
    return last.issue + 1 if last else 1


def current_gate_draft(aircraft_type: AircraftType, on: date) -> Raw:
    """Return the draft of a type, or the last published gates, valid from tomorrow, to start one.

    The first gates of a type are valid from today: no lesson is judged by others.
    """
    draft = GateDraft.objects.filter(aircraft_type=aircraft_type).first()
    if draft:
        content: Raw = draft.content
        return content
    last = latest_gate_set(aircraft_type)
    if last is None:
        return {"shape": "square", "gates": [], "valid_from": on.isoformat()}
    # Today may have lessons already, and they are judged by the gates in force: _refuse_date() would refuse it.
    return raw_from_spec(gate_set_spec(last)) | {"valid_from": (on + timedelta(days=1)).isoformat()}


@transaction.atomic
def save_gate_draft(*, aircraft_type: AircraftType, raw: Raw, by: Person, at: datetime) -> GateDraft:
    """Save a draft as it was typed, valid or not."""
    # Not in the journal: it is saved at each change of a field, and nothing rests on a draft.
    draft, _ = GateDraft.objects.update_or_create(
        aircraft_type=aircraft_type, defaults={"content": raw, "edited_at": at, "edited_by": by}
    )
    return draft


@transaction.atomic
def begin_gate_draft(*, aircraft_type: AircraftType, form: GateSetSpec, by: Person, at: datetime) -> GateDraft:
    """Save the first draft of a type. Refuses where gates or a draft are there: those are changed, not replaced."""
    AircraftType.objects.select_for_update().get(pk=aircraft_type.pk)  # one draft at a time
    if GateDraft.objects.filter(aircraft_type=aircraft_type).exists() or latest_gate_set(aircraft_type):
        raise Refusal(f"The {aircraft_type} has gates or a draft of them already: change those. Nothing was saved.")
    return save_gate_draft(aircraft_type=aircraft_type, raw=raw_from_spec(form), by=by, at=at)


@transaction.atomic
def publish_gates(*, aircraft_type: AircraftType, raw: Raw, reason: str, by: Person, at: datetime) -> GateSet:
    """Publish the next issue of a type's gates; `reason`: why, for the journal, after the first one.

    Refuses with the first problem, and where nothing would change.
    """
    AircraftType.objects.select_for_update().get(pk=aircraft_type.pk)  # one issue at a time
    # Numbered under the lock: without it, two who publish at once would both take the same number.
    form, problems = parse_raw(raw, next_gate_issue(aircraft_type), stall_speeds(aircraft_type), home_runways())
    if form is None or problems:
        # The first one is enough in this sentence: the page lists all of them.
        where = f"Gate {problems[0].gate + 1}: " if problems[0].gate is not None else ""
        raise Refusal(f"Not published. {where}{problems[0].sentence}")
    _refuse_date(aircraft_type, form, school_day(at))
    last = latest_gate_set(aircraft_type)
    if last is not None and not gate_differences(gate_set_spec(last), form):
        raise Refusal(f"Not published. Nothing differs from issue {last.issue}.")
    after = {"issue": form.issue, "valid_from": form.valid_from, "gates": len(form.gates)}
    # A first issue changes nothing; and a reason is asked after the draft itself, since none is asked for nothing.
    if last is not None:
        wanted = "Not published. Write why the gates change: the journal keeps the reason."
        after["reason"] = required_text(reason, wanted, most=300)
    gate_set = load_gates(aircraft_type, form)
    GateDraft.objects.filter(aircraft_type=aircraft_type).delete()
    journal.record(by=by, at=at, what="gates published", subject=gate_set, after=after)
    return gate_set


def _refuse_date(aircraft_type: AircraftType, form: GateSetSpec, today: date) -> None:
    """Refuse a day that may have lessons already: they are judged by the gates of their day."""
    last = latest_gate_set(aircraft_type)
    if last is not None and form.valid_from <= max(today, last.valid_from):
        after = max(today, last.valid_from)
        raise Refusal(f"Not published. Lessons up to {write_day(after)} have their gates: choose a later day.")


@transaction.atomic
def discard_gate_draft(*, aircraft_type: AircraftType, by: Person, at: datetime) -> None:
    GateDraft.objects.filter(aircraft_type=aircraft_type).delete()
    journal.record(by=by, at=at, what="draft of gates discarded", subject=aircraft_type)


# Syllabuses


@transaction.atomic
def begin_draft(*, syllabus: Syllabus, by: Person, at: datetime) -> SyllabusDraft:
    """Start the next issue of a syllabus as a copy, or return the open draft."""
    Syllabus.objects.select_for_update(of=("self",)).get(pk=syllabus.pk)  # one draft at a time
    content = to_content(syllabus_form(syllabus))
    issue = _next_issue(syllabus.code)
    draft = SyllabusDraft.objects.filter(code=syllabus.code).first()
    # Returned and not refused: two people who begin the next issue work on one draft.
    if draft:
        return draft
    content["issue"] = issue
    draft = SyllabusDraft.objects.create(
        code=syllabus.code, issue=issue, based_on=syllabus, content=content, edited_at=at, edited_by=by
    )
    journal.record(by=by, at=at, what="draft of syllabus begun", subject=draft, after={"issue": issue})
    return draft


def _next_issue(code: str) -> int:
    return (Syllabus.objects.filter(code=code).aggregate(last=Max("issue"))["last"] or 0) + 1


@transaction.atomic
def import_syllabus(*, form: SyllabusForm, by: Person, at: datetime) -> SyllabusDraft:
    """Save a syllabus from a file as a draft; reading a file publishes nothing."""
    if Syllabus.objects.filter(code=form.code, issue=form.issue).exists():
        raise Refusal(f"Issue {form.issue} of {form.title} is already published: give the file the next number.")
    if SyllabusDraft.objects.filter(code=form.code).exists():
        raise Refusal(f"A draft of {form.title} is open: publish or discard it first.")
    based_on = Syllabus.objects.filter(code=form.code).order_by("-issue").first()
    draft = SyllabusDraft.objects.create(
        code=form.code, issue=form.issue, based_on=based_on, content=to_content(form), edited_at=at, edited_by=by
    )
    journal.record(by=by, at=at, what="syllabus taken in", subject=draft, after={"issue": form.issue})
    return draft


def _lock_draft(draft: SyllabusDraft) -> SyllabusDraft:
    """Lock a draft and return it. Refuses one that was published or discarded meanwhile."""
    locked = SyllabusDraft.objects.select_for_update(of=("self",)).filter(pk=draft.pk).first()
    if locked is None:
        raise Refusal("This draft has since been published or discarded. Nothing was changed.")
    return locked


@transaction.atomic
def save_draft(*, draft: SyllabusDraft, content: dict[str, Any], read: str, by: Person, at: datetime) -> SyllabusDraft:
    """Save what was typed. Refuses if somebody changed the draft since its form was shown, so that no change is lost.

    `read`: `edited_at` of the draft as the form showed it, in ISO 8601.
    """
    locked = _lock_draft(draft)
    if locked.edited_at.isoformat() != read:
        raise Refusal("Somebody has since changed this draft. Nothing was saved: reload it, then make your change.")
    draft = locked
    draft.content, draft.edited_at, draft.edited_by = content, at, by
    draft.save(update_fields=["content", "edited_at", "edited_by"])
    return draft


@transaction.atomic
def publish_draft(*, draft: SyllabusDraft, reason: str, by: Person, at: datetime) -> Syllabus:
    """Publish an issue: from then on nobody can change it, and students can be enrolled in it or moved to it.

    `reason`: why, for the journal. Refused where nothing would change.
    """
    draft = _lock_draft(draft)
    # A draft may be saved while it is wrong, so this is the last check before it is final. Code and issue are those
    # of the row: content that was edited cannot take the number of another issue.
    form = validate_content(draft.content | {"code": draft.code, "issue": draft.issue})
    if not isinstance(form, SyllabusForm):
        raise Refusal(f"Not published. {form[0]}")
    # publish_syllabus() returns an existing issue as it is: the draft would be deleted and its content lost.
    if Syllabus.objects.filter(code=draft.code, issue=draft.issue).exists():
        raise Refusal(f"Issue {draft.issue} of {draft.title} is already published.")
    last = latest_issue(draft.code)
    if last is not None and not draft_differences(last, to_content(form)):
        raise Refusal(f"Not published. Nothing differs from issue {last.issue}.")
    reason = required_text(
        reason, "Not published. Write why the syllabus changes: the journal keeps the reason.", most=300
    )
    syllabus = publish_syllabus(form, published_on=school_day(at))
    draft.delete()
    after = {"issue": syllabus.issue, "reason": reason}
    journal.record(by=by, at=at, what="syllabus published", subject=syllabus, after=after)
    return syllabus


def latest_issue(code: str) -> Syllabus | None:
    return Syllabus.objects.filter(code=code, published_on__isnull=False).order_by("-issue").first()


def draft_differences(last: Syllabus | None, content: dict[str, Any]) -> list[str]:
    """Return how a draft differs from the last issue, a sentence each."""
    return syllabus_differences(to_content(syllabus_form(last)) if last else None, content)


@transaction.atomic
def discard_draft(*, draft: SyllabusDraft, by: Person, at: datetime) -> None:
    draft = _lock_draft(draft)
    # Before the deletion, while the draft still has the key that the entry names.
    journal.record(by=by, at=at, what="draft of syllabus discarded", subject=draft, before={"issue": draft.issue})
    draft.delete()
