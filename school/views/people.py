"""Show the administrator's pages about people."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import OuterRef, Q, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from school import actions as school_actions
from school.accounts import actions, independence, role_dependencies, second_person, second_step, waiting
from school.current import school_day
from school.errors import Refusal
from school.formats import write_day
from school.forms import AddPersonForm, CertificateForm, EditPersonForm, RolesForm, SecondPersonForm
from school.models import Invitation, Paper, Person, Role
from school.permissions import can_manage_people
from school.views.attachments import PICTURES

MAX_ROWS = 200  # rows of one page; the search narrows it


def _require_manager(request: HttpRequest) -> Person:
    if not can_manage_people(request.user):
        raise PermissionDenied("Only the administrator manages people.")
    keeper: Person = request.user
    return keeper


@require_GET
def people(request: HttpRequest) -> HttpResponse:
    """List everybody with their roles and the state of their access."""
    _require_manager(request)
    words, role = request.GET.get("q", "").strip()[:100], request.GET.get("role", "")
    found = Person.objects.by_name().exclude(username__startswith="erased ")
    for word in words.split():
        found = found.filter(
            Q(given_name__icontains=word)
            | Q(family_name__icontains=word)
            | Q(username__icontains=word)
            | Q(reference__icontains=word)
        )
    if role in Role.values:
        found = found.filter(roles__contains=[role])
    newest = Invitation.objects.filter(person=OuterRef("pk")).order_by("-invited_at", "-pk")
    rows = found.annotate(
        second_step=second_step.exists_annotation(), invited_at=Subquery(newest.values("invited_at")[:1])
    )
    now = timezone.now()
    # One row more than is shown tells whether there are others, without counting them.
    shown = list(rows[: MAX_ROWS + 1])
    return render(
        request,
        "school/people.html",
        {
            "rows": [
                (row, _access_state(row, row.invited_at, now), second_step.is_required(row)) for row in shown[:MAX_ROWS]
            ],
            "more": len(shown) > MAX_ROWS,
            "q": words,
            "role": role,
            "roles": Role.choices,
        },
    )


def _access_state(person: Person, invited_at: Any, now: Any) -> str:
    if not person.is_active:
        return "may not log in"
    if person.has_usable_password():
        return "active"
    if invited_at is None:
        return "not invited"
    ends = Invitation(invited_at=invited_at).expires_at
    return f"invited, until {write_day(school_day(ends))}" if now < ends else "invitation expired"


@require_http_methods(["GET", "POST"])
def add_person(request: HttpRequest) -> HttpResponse:
    """Add a person; the invitation is sent from their page."""
    keeper = _require_manager(request)
    form = AddPersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        data = {**form.cleaned_data, "roles": [Role(role) for role in form.cleaned_data["roles"]]}
        try:
            added = school_actions.add_person(**data, by=keeper, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"{added} has been added. Send the invitation next.")
            return redirect("school:person", added.pk)
    return render(request, "school/add_person.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def person(request: HttpRequest, pk: int) -> HttpResponse:
    """Show and edit one person: personal details, roles, certificate and access."""
    keeper, somebody = _require_manager(request), _get_person(pk)
    form = EditPersonForm(request.POST or None, person=somebody)
    beside = SecondPersonForm(request.POST or None, auto_id="id_address_%s")
    if request.method == "POST" and form.is_valid():
        changes = form.cleaned_data
        return _act_and_redirect(
            request,
            somebody,
            "Personal details saved.",
            lambda: actions.edit_person(
                person=somebody, changes=changes, by=keeper, at=timezone.now(), confirmation=beside.confirmation
            ),
            form=form,
            address_form=beside,
        )
    return _render_person(request, somebody, form=form, address_form=beside)


@require_POST
def change_roles(request: HttpRequest, pk: int) -> HttpResponse:
    keeper, somebody = _require_manager(request), _get_person(pk)
    roles = request.POST.getlist("roles")
    return _act_and_redirect(
        request,
        somebody,
        "Roles saved.",
        lambda: actions.change_roles(person=somebody, roles=roles, by=keeper, at=timezone.now()),
    )


@require_POST
def add_certificate(request: HttpRequest, pk: int) -> HttpResponse:
    """Add the instructor certificate with which the person signs."""
    keeper, somebody = _require_manager(request), _get_person(pk)
    form = CertificateForm(request.POST, request.FILES)
    if not form.is_valid():
        return _render_person(request, somebody, certificate_form=form)
    kind = Paper.Kind.INSTRUCTOR_CERTIFICATE
    return _act_and_redirect(
        request,
        somebody,
        "The certificate has been added.",
        lambda: school_actions.record_paper(
            person=somebody, kind=kind, **form.cleaned_data, by=keeper, at=timezone.now()
        ),
        certificate_form=form,
    )


@require_POST
def void_certificate(request: HttpRequest, pk: int) -> HttpResponse:
    """Void a certificate that was entered wrongly; it stays readable with the reason, and nobody signs with it."""
    keeper = _require_manager(request)
    # The kind is part of the look-up, so that no other document is voided through this address.
    paper = get_object_or_404(Paper.objects.select_related("person"), pk=pk, kind=Paper.Kind.INSTRUCTOR_CERTIFICATE)
    reason = request.POST.get("reason", "")
    try:
        school_actions.void_paper(paper=paper, reason=reason, by=keeper, at=timezone.now())
    except Refusal as refusal:
        said = {"voiding": paper.pk, "void_reason": reason}
        return _render_person(request, paper.person, refused=str(refusal), said=said)
    messages.info(request, "The certificate is void: nobody can sign with it any more.")
    return redirect("school:person", paper.person_id)


@require_POST
def invite_person(request: HttpRequest, pk: int) -> HttpResponse:
    keeper, somebody = _require_manager(request), _get_person(pk)
    return _act_and_redirect(
        request,
        somebody,
        f"The invitation has been e-mailed to {somebody.email}.",
        lambda: actions.invite(person=somebody, by=keeper, at=timezone.now()),
    )


@require_POST
def revoke_access(request: HttpRequest, pk: int) -> HttpResponse:
    keeper, somebody = _require_manager(request), _get_person(pk)
    reason = request.POST.get("reason", "")[:200]
    return _act_and_redirect(
        request,
        somebody,
        f"{somebody} has no access any more and has been logged out everywhere.",
        lambda: actions.revoke_access(person=somebody, reason=reason, by=keeper, at=timezone.now()),
    )


@require_POST
def restore_access(request: HttpRequest, pk: int) -> HttpResponse:
    keeper, somebody = _require_manager(request), _get_person(pk)
    return _act_and_redirect(
        request,
        somebody,
        f"{somebody} has access again.",
        lambda: actions.restore_access(person=somebody, by=keeper, at=timezone.now()),
    )


@require_POST
def stop_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw a change of a person's account that waits."""
    keeper, somebody, now = _require_manager(request), _get_person(pk), timezone.now()
    kind = request.POST.get("kind", "")

    def stop() -> None:
        change = next((one for one in waiting.waiting_changes(somebody, now) if one.kind == kind), None)
        if change is None:
            raise Refusal(waiting.NOTHING_WAITS)
        waiting.stop(change=change, by=keeper, at=now)

    return _act_and_redirect(request, somebody, "The change is stopped.", stop)


@require_POST
def reset_second_step(request: HttpRequest, pk: int) -> HttpResponse:
    keeper, somebody = _require_manager(request), _get_person(pk)
    beside = SecondPersonForm(request.POST, auto_id="id_step_%s")
    return _act_and_redirect(
        request,
        somebody,
        lambda: _reset_words(somebody, timezone.now()),
        lambda: actions.reset_second_step(
            person=somebody, by=keeper, at=timezone.now(), confirmation=beside.confirmation
        ),
        step_form=beside,
    )


def _reset_words(somebody: Person, now: datetime) -> str:
    changes = waiting.waiting_changes(_get_person(somebody.pk), now)
    waits = next((one for one in changes if one.kind == waiting.SECOND_STEP), None)
    if waits is None:
        return f"{somebody} no longer has a second step and must set up a new one."
    return f"The reset takes effect on {waiting.format_moment(waits.takes_effect)} unless {somebody} stops it."


def _get_person(pk: int) -> Person:
    return get_object_or_404(Person, pk=pk)


def _act_and_redirect(
    request: HttpRequest, somebody: Person, said: str | Callable[[], str], act: Any, **forms: Any
) -> HttpResponse:
    """Carry an action out and go back to the page, which shows a refused form as it was typed, with the reason."""
    try:
        act()
    except Refusal as refusal:
        return _render_person(request, _get_person(somebody.pk), refused=str(refusal), **forms)
    messages.info(request, said if isinstance(said, str) else said())
    return redirect("school:person", somebody.pk)


def _render_person(
    request: HttpRequest, somebody: Person, refused: str = "", said: dict[str, Any] | None = None, **forms: Any
) -> HttpResponse:
    newest = somebody.invitations.select_related("invited_by").order_by("-invited_at", "-pk").first()
    now = timezone.now()
    held = {
        "form": EditPersonForm(person=somebody),
        "roles_form": RolesForm(initial={"roles": somebody.roles}),
        "certificate_form": CertificateForm(),
        # Two of these forms are on one page: without their own ids a label would belong to the other's field.
        "address_form": SecondPersonForm(auto_id="id_address_%s"),
        "step_form": SecondPersonForm(auto_id="id_step_%s"),
    } | forms
    context = {
        **held,
        "somebody": somebody,
        "own": somebody.pk == request.user.pk,
        "needs_second": second_person.is_needed(somebody, request.user),
        "can_confirm": independence.can_somebody_confirm(somebody, request.user, now),
        "waiting": waiting.waiting_changes(somebody, now),
        "waiting_hours": waiting.WAITING_HOURS,
        "state": _access_state(somebody, newest.invited_at if newest else None, now),
        "newest": newest,
        "has_password": somebody.has_usable_password(),
        "second_step": second_step.is_set_up(somebody),
        "must": second_step.is_required(somebody),
        "certificates": Paper.objects.filter(person=somebody, kind=Paper.Kind.INSTRUCTOR_CERTIFICATE)
        .select_related("voided_by")
        .annotate(pictures=PICTURES)
        .order_by("-issued", "-pk"),
        # Shown before a role is removed or access revoked: revoking is never refused because of open work.
        "ties": role_dependencies.list_open_dependencies(somebody, somebody.roles),
        "refused": refused,
        **(said or {}),
    }
    wrong = bool(refused) or any(form.errors for form in forms.values())
    return render(request, "school/person.html", context, status=422 if wrong else 200)
