"""Syllabuses: read by the staff; drafted, published and handed to students by the chief instructor."""

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Count, Q
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import moving, publishing
from lessons.access import get_readable_enrolment
from lessons.loading import syllabus_form
from lessons.models import Enrolment, Syllabus, SyllabusDraft, Unit
from lessons.syllabus_file import (
    InvalidSyllabusFile,
    SyllabusForm,
    json_schema,
    parse_syllabus,
    to_content,
    to_json,
    to_yaml,
    validate_content,
)
from lessons.syllabus_forms import (
    EditFaultForm,
    EditHeadingForm,
    EditItemForm,
    EditManoeuvreForm,
    EditPartForm,
    EditUnitForm,
    ImportSyllabusForm,
)
from school.downloads import content_disposition
from school.errors import Refusal
from school.permissions import can_decide, can_see_all_students

# The word in the address of a part: its name on the page and its form. Any other word is 404.
DRAFT_PARTS: dict[str, tuple[str, type[EditPartForm]]] = {
    "heading": ("heading", EditHeadingForm),
    "items": ("item of training", EditItemForm),
    "manoeuvres": ("manoeuvre", EditManoeuvreForm),
    "faults": ("fault", EditFaultForm),
    "units": ("unit", EditUnitForm),
}
CONTENT_TYPES = {"json": "application/json", "yaml": "application/yaml"}


@require_GET
def syllabuses(request: HttpRequest) -> HttpResponse:
    """Show every issue with its students, and the drafts."""
    _require_staff(request)
    active = Count("enrolments", filter=Q(enrolments__ended_on=None))
    rows = Syllabus.objects.filter(published_on__isnull=False).select_related("scale").annotate(active=active)
    context = {
        "issues": rows.order_by("title", "-issue"),
        "drafts": SyllabusDraft.objects.select_related("edited_by").order_by("code"),
        "can_decide": can_decide(request.user),
    }
    return render(request, "lessons/syllabuses.html", context)


@require_GET
def syllabus(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one published issue in full."""
    _require_staff(request)
    found = _get_published(pk)
    newest = not Syllabus.objects.filter(code=found.code, issue__gt=found.issue, published_on__isnull=False).exists()
    students = Enrolment.objects.filter(syllabus=found, ended_on=None).select_related("student").order_by("pk")
    context = {
        "syllabus": found,
        "form": syllabus_form(found),
        "can_decide": can_decide(request.user),
        "newest": newest,
        "students": students,
    }
    return render(request, "lessons/syllabus.html", context)


@require_GET
def syllabus_file(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    """Download one published issue as a file."""
    _require_staff(request)
    found = _get_published(pk)
    if kind not in CONTENT_TYPES:
        raise Http404("A syllabus can be exported as JSON or YAML.")
    form = syllabus_form(found)
    body = to_json(form) if kind == "json" else to_yaml(form)
    name = f"{found.code}-{found.issue}.{kind}"
    return HttpResponse(
        body,
        content_type=f"{CONTENT_TYPES[kind]}; charset=utf-8",
        headers={"Content-Disposition": content_disposition(name)},
    )


@require_GET
def syllabus_schema(request: HttpRequest) -> HttpResponse:
    """Return the JSON Schema of the syllabus file."""
    _require_staff(request)
    return JsonResponse(json_schema(), json_dumps_params={"indent": 1})


@require_http_methods(["GET", "POST"])
def import_syllabus(request: HttpRequest) -> HttpResponse:
    """Import a syllabus file as a draft. An invalid file is refused whole, with line and field."""
    _require_chief(request)
    form = ImportSyllabusForm(request.POST or None, request.FILES or None)
    problems: list[Any] = []
    if request.method == "POST" and form.is_valid():
        try:
            draft = publishing.import_syllabus(
                form=parse_syllabus(form.cleaned_data["text"]), by=request.user, at=timezone.now()
            )
        except InvalidSyllabusFile as bad:
            problems = bad.problems
        except Refusal as refusal:
            # A valid file can still collide with an open draft or a published issue: no line of it is wrong.
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"{draft}has been imported. Check it, then publish it.")
            return redirect("lessons:syllabus_draft", draft.pk)
    # Pasted text stays on the page; an uploaded file's text is shown only if it must be corrected.
    text = request.POST.get("text") or (form.cleaned_data.get("text", "") if problems else "")
    context = {"form": form, "problems": problems, "text": text}
    return render(request, "lessons/import_syllabus.html", context, status=422 if problems or form.errors else 200)


@require_POST
def begin_draft(request: HttpRequest, pk: int) -> HttpResponse:
    """Start the next issue as a copy of this one."""
    _require_chief(request)
    draft = publishing.begin_draft(syllabus=_get_published(pk), by=request.user, at=timezone.now())
    return redirect("lessons:syllabus_draft", draft.pk)


@require_GET
def syllabus_draft(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a draft with its problems."""
    _require_chief(request)
    draft = get_object_or_404(SyllabusDraft.objects.select_related("based_on", "edited_by"), pk=pk)
    return render(request, "lessons/syllabus_draft.html", _draft_context(draft))


@require_POST
def publish_draft(request: HttpRequest, pk: int) -> HttpResponse:
    """Publish a draft: from then on it never changes."""
    _require_chief(request)
    draft = get_object_or_404(SyllabusDraft, pk=pk)
    try:
        reason = request.POST.get("reason", "")
        published = publishing.publish_draft(draft=draft, reason=reason, by=request.user, at=timezone.now())
    except Refusal as refusal:
        context = _draft_context(draft) | {"refused": str(refusal), "reason": reason}
        return render(request, "lessons/syllabus_draft.html", context, status=422)
    messages.info(request, f"{published} is published. Now move the students to it, from the issue before.")
    return redirect("lessons:syllabus", published.pk)


@require_POST
def discard_draft(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a draft away."""
    _require_chief(request)
    try:
        publishing.discard_draft(draft=get_object_or_404(SyllabusDraft, pk=pk), by=request.user, at=timezone.now())
    except Refusal as refusal:
        # The only refusal is that somebody published or discarded the draft first: its page is gone.
        raise Http404(str(refusal)) from refusal
    return redirect("lessons:syllabuses")


@require_http_methods(["GET", "POST"])
def draft_part(request: HttpRequest, pk: int, part: str, place: int) -> HttpResponse:
    """Edit, add or remove one part of a draft. A place after the last one is a new part."""
    _require_chief(request)
    draft = get_object_or_404(SyllabusDraft, pk=pk)
    if part not in DRAFT_PARTS:
        raise Http404("A syllabus has no such part.")
    values = _part_values(draft.content, part, place)
    word, form_class = DRAFT_PARTS[part]
    form = form_class(request.POST or None, draft=draft.content, part=values or {})
    # The moment goes through the form: between its reading and its sending somebody else may have changed the draft.
    read = request.POST.get("edited_at", draft.edited_at.isoformat())
    if request.method == "POST":
        removing = request.POST.get("act") == "remove"
        # What is removed need not be valid: otherwise a part that nobody can correct could never go.
        if removing or form.is_valid():
            content = _replace_part(draft.content, part, place, None if removing else form.content(), values)
            try:
                publishing.save_draft(draft=draft, content=content, read=read, by=request.user, at=timezone.now())
            except Refusal as refusal:
                form.add_error(None, str(refusal))
            else:
                return redirect("lessons:syllabus_draft", draft.pk)
    context = {"draft": draft, "form": form, "word": word, "part": part, "new": values is None, "read": read}
    return render(request, "lessons/draft_part.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def move_student(request: HttpRequest, uid: uuid.UUID) -> HttpResponse:
    """Move a student to another issue, with a mapping for each unit flown."""
    # First 404 for a record that this person may not know about, then 403 for one that they may only read.
    enrolment = get_readable_enrolment(request.user, uid)
    _require_chief(request)
    issues = list(
        Syllabus.objects.filter(published_on__isnull=False).exclude(pk=enrolment.syllabus_id).order_by("code", "-issue")
    )
    asked = request.POST.get("syllabus") or request.GET.get("syllabus") or ""
    # Only a GET proposes an issue: a POST moves nobody to an issue that was not chosen.
    offered = issues[0] if issues and request.method == "GET" else None
    # Out of the offered issues: a posted key cannot name the present issue or one that is not published.
    target = next((row for row in issues if str(row.pk) == asked), offered)
    flown = moving.units_to_map(enrolment)
    units = list(
        Unit.objects.filter(stage__syllabus=target).select_related("stage").order_by("stage__number", "number")
    )
    refused = ""
    if request.method == "POST" and target is None:
        refused = "That issue is no longer available: choose another one. Nobody was moved."
    if request.method == "POST" and target is not None:
        chosen = {str(unit.pk): unit for unit in units}
        # Empty is the answer “counts as nothing”. Without an answer a unit stays out, and move_enrolment() refuses.
        mapping = {
            old: chosen.get(request.POST[f"unit-{old.pk}"])
            for old in flown
            if request.POST.get(f"unit-{old.pk}") in ("", *chosen)
        }
        try:
            moving.move_enrolment(
                enrolment=enrolment, syllabus=target, mapping=mapping, by=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            refused = str(refusal)
        else:
            messages.info(request, f"{enrolment.student} is in {target} from now on. No lesson was changed.")
            return redirect("grading:readiness", enrolment.uid)
    context = {
        "enrolment": enrolment,
        "issues": issues,
        "target": target,
        "rows": [(old, moving.likely_unit(old, units)) for old in flown],
        "units": units,
        "refused": refused,
    }
    return render(request, "lessons/move_student.html", context, status=422 if refused else 200)


def _draft_context(draft: SyllabusDraft) -> dict[str, Any]:
    found = validate_content(draft.content)
    content = draft.content
    last = publishing.latest_issue(draft.code)
    units = [(stage, unit) for stage in content.get("stages", []) for unit in stage.get("units", [])]
    # A template would read “content.items” as the method of the dict where a draft has no items yet.
    return {
        "draft": draft,
        "content": content | {"items_of_training": content.get("items", [])},
        "units": units,
        "problems": [] if isinstance(found, SyllabusForm) else found,
        "last": last,
        "differences": publishing.draft_differences(last, to_content(found)) if isinstance(found, SyllabusForm) else [],
        "students": Enrolment.objects.filter(syllabus__code=draft.code, ended_on=None).count(),
    }


def _unit_places(content: dict[str, Any]) -> list[tuple[int, int]]:
    """Return stage and place of each unit, in order."""
    # An address has one number for a unit, counted across the stages; the content nests units in stages.
    return [
        (stage, at) for stage, row in enumerate(content.get("stages", [])) for at in range(len(row.get("units", [])))
    ]


def _part_values(content: dict[str, Any], part: str, place: int) -> dict[str, Any] | None:
    """Return the plain values of a part; None for a new one."""
    if part == "heading":
        return content
    if part == "units":
        places = _unit_places(content)
        if place >= len(places):
            return None
        stage, at = places[place]
        # The form can move a unit to another stage, so the stage is one of its values.
        return content["stages"][stage]["units"][at] | {"stage": stage}
    rows: list[dict[str, Any]] = content.get(part, [])
    return rows[place] if place < len(rows) else None


def _replace_part(
    content: dict[str, Any], part: str, place: int, new: dict[str, Any] | None, old: dict[str, Any] | None
) -> dict[str, Any]:
    """Return the content with a part added, changed, or (new None) removed."""
    if part == "heading":
        return content | (new or {})
    if part == "units":
        return _replace_unit(content, place, new, old)
    rows = list(content.get(part, []))
    # A place after the last one is an empty slice: the same line then appends a new part.
    rows[place : place + 1] = [] if new is None else [new]
    return content | {part: rows}


def _replace_unit(
    content: dict[str, Any], place: int, new: dict[str, Any] | None, old: dict[str, Any] | None
) -> dict[str, Any]:
    # The lists are copied, so that a refused change leaves the draft in memory as it was read.
    stages = [stage | {"units": list(stage.get("units", []))} for stage in content.get("stages", [])]
    if old is not None:
        stage, at = _unit_places(content)[place]
        del stages[stage]["units"][at]
    if new is not None:
        # In the file the stage is where a unit lies and no field of it: left in, it would be refused as unknown.
        chosen = int(new.pop("stage")) if "stage" in new else (old or {}).get("stage", 0)
        stages[chosen]["units"].append(new)
        # Numbers must rise (find_contradictions): a new unit can be put between two others by its number alone.
        stages[chosen]["units"].sort(key=lambda unit: unit.get("number", 0))
    return content | {"stages": stages}


def _get_published(pk: int) -> Syllabus:
    return get_object_or_404(Syllabus.objects.select_related("scale"), pk=pk, published_on__isnull=False)


def _require_staff(request: HttpRequest) -> None:
    if not can_see_all_students(request.user):
        raise PermissionDenied("The syllabuses are for staff; you find your own units on your page.")


def _require_chief(request: HttpRequest) -> None:
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor may change a syllabus.")
