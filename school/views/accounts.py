"""Show people their own account, and the page behind the link of an invitation."""

from typing import Any

from allauth.account import views as allauth_views
from allauth.account.models import EmailAddress
from allauth.core import ratelimit
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from school.accounts import actions, devices, second_step, waiting
from school.accounts.browsers import describe_browser
from school.accounts.emails import EmailNotSent
from school.accounts.invitation_links import find_open_invitation
from school.errors import Refusal
from school.forms import NewPasswordForm
from school.views.attachments import PICTURES


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def invitation(request: HttpRequest, link: str) -> HttpResponse:
    """Let an invited person set a password. Whatever is wrong with a link, the answer is the same."""
    now = timezone.now()
    # The limit of the forgotten-password link serves here too: both links open an account.
    if not ratelimit.consume(request, action="reset_password_from_key"):
        return ratelimit.respond_429(request)
    found = find_open_invitation(link, now)
    if found is None:
        return render(request, "school/invitation.html", {"found": None}, status=410)
    form = NewPasswordForm(request.POST or None, person=found.person)
    if request.method == "POST" and form.is_valid():
        try:
            person = actions.accept_invitation(link=link, password=form.cleaned_data["password1"], at=now)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"Your password is set. Log in as {person.username}.")
            return redirect("school:login")
    context = {"found": found, "form": form}
    return render(request, "school/invitation.html", context, status=422 if form.errors else 200)


@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def waiting_change(request: HttpRequest, link: str) -> HttpResponse:
    """Let the owner of an address stop a change of the account, or use a new address at once."""
    now = timezone.now()
    if not ratelimit.consume(request, action="reset_password_from_key"):
        return ratelimit.respond_429(request)
    change = waiting.find_by_link(link, now)
    if change is None:
        return render(request, "school/waiting_change.html", {"change": None}, status=410)
    if request.method == "POST":
        # Two buttons; what names neither of them stops the change, which is the harmless one.
        agreed = "use_now" in request.POST
        try:
            if agreed:
                waiting.use_address_now(change=change, at=now)
            else:
                waiting.stop(change=change, by=change.person, at=now)
        except Refusal as refusal:
            messages.info(request, str(refusal))
        else:
            messages.info(request, "The new address is in use." if agreed else "The change is stopped.")
        return redirect("school:login")
    return render(request, "school/waiting_change.html", {"change": change, "current": change.person.email})


@require_POST
def stop_own_change(request: HttpRequest) -> HttpResponse:
    """Stop a change of one's own account."""
    now, kind = timezone.now(), request.POST.get("kind", "")
    change = next((one for one in waiting.waiting_changes(request.user, now) if one.kind == kind), None)
    try:
        if change is None:
            raise Refusal(waiting.NOTHING_WAITS)
        waiting.stop(change=change, by=request.user, at=now)
    except Refusal as refusal:
        messages.info(request, str(refusal))
    else:
        messages.info(request, "The change is stopped.")
    return redirect("school:account")


class _EmailMixin:
    """Show a form again as it was typed, with the reason, when its e-mail could not be sent."""

    def form_valid(self, form: Any) -> HttpResponse:
        try:
            # Whatever was written for the e-mail goes with it.
            with transaction.atomic():
                return super().form_valid(form)
        except EmailNotSent as refusal:
            form.add_error(None, str(refusal))
            return self.form_invalid(form)


class PasswordReset(_EmailMixin, allauth_views.PasswordResetView):
    pass


class EmailChange(_EmailMixin, allauth_views.EmailView):
    """Change one's own address. It only adds one or sends the e-mail again: what else allauth offers would not wait."""

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not {"action_add", "action_send"} & set(request.POST):
            return redirect("account_email")
        answer: HttpResponse = super().post(request, *args, **kwargs)
        return answer


class PasswordChange(allauth_views.PasswordChangeView):
    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        # allauth would go on to a page where anybody at an open session sets a password without one before it.
        if not request.user.has_usable_password():
            messages.error(request, "Your account has no password yet. Ask the administrator to invite you to set one.")
            return redirect("school:account")
        return super().dispatch(request, *args, **kwargs)


password_reset, email_change = PasswordReset.as_view(), EmailChange.as_view()
password_change = PasswordChange.as_view()


@require_GET
def account(request: HttpRequest) -> HttpResponse:
    """Show name, address, password, second step and sessions of the person who is logged in."""
    person = request.user
    held = list(Authenticator.objects.filter(user=person).order_by("pk"))
    sessions = sorted(UserSession.objects.purge_and_list(person), key=lambda row: row.created_at, reverse=True)
    return render(
        request,
        "school/account.html",
        {
            "waiting": waiting.waiting_changes(person, timezone.now()),
            "confirmed": EmailAddress.objects.filter(user=person, email=person.email, verified=True).exists(),
            "passkeys": [row.wrap().name for row in held if row.type == Authenticator.Type.WEBAUTHN],
            "codes": any(row.type == Authenticator.Type.TOTP for row in held),
            "must": second_step.is_required(person),
            "sessions": [(row, describe_browser(row.user_agent), row.is_current()) for row in sessions],
            "days": settings.SESSION_COOKIE_AGE // 86400,
            "papers": person.papers.in_force().annotate(pictures=PICTURES).order_by("kind", "-issued"),
        },
    )


@require_POST
def end_session(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        actions.end_session(person=request.user, pk=pk, at=timezone.now())
    except Refusal as refusal:
        messages.info(request, str(refusal))
    return redirect("school:account")


@require_POST
def end_other_sessions(request: HttpRequest) -> HttpResponse:
    """End every session except that of the request."""
    actions.end_other_sessions(person=request.user, at=timezone.now())
    # The new epoch has ended this session too: it gets the new hash, and its row in the list again.
    request.user.refresh_from_db()
    update_session_auth_hash(request, request.user)
    UserSession.objects.create_from_request(request)
    devices.remember(request, request.user)
    messages.info(request, "You have been logged out everywhere else.")
    return redirect("school:account")
