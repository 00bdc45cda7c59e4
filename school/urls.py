"""List the addresses of the whole project and the school's own pages."""

from collections.abc import Callable
from typing import Any

from allauth.account import views as account
from allauth.mfa.base import views as second
from allauth.mfa.recovery_codes import views as recovery
from allauth.mfa.totp import views as totp
from allauth.mfa.webauthn import views as webauthn
from django.db import transaction
from django.urls import include, path, re_path
from django.views.decorators.http import require_http_methods

from school.views import accounts, attachments, fleet, frame, people, places, runways

View = Callable[..., Any]


def wrap_allauth_view(view: View, *methods: str) -> View:
    """Wrap a page of allauth: all that it writes and its journal entry are one transaction."""
    page: View = require_http_methods(list(methods) or ["GET", "POST"])(transaction.atomic(view))
    return page


# Log-out by POST only: otherwise a link on any page could log people out.
log_in, log_out = wrap_allauth_view(account.login), wrap_allauth_view(account.logout, "POST")
second_step_index = wrap_allauth_view(second.index, "GET")


school_pages = [
    path("login/", log_in, name="login"),
    path("logout/", log_out, name="logout"),
    path("invitation/<str:link>/", accounts.invitation, name="invitation"),
    path("account-change/<str:link>/", accounts.waiting_change, name="waiting_change"),
    path("account/", accounts.account, name="account"),
    path("account/stop-change/", accounts.stop_own_change, name="stop_own_change"),
    path("account/sessions/<int:pk>/end/", accounts.end_session, name="end_session"),
    path("account/sessions/end-others/", accounts.end_other_sessions, name="end_other_sessions"),
    path("people/", people.people, name="people"),
    path("people/add/", people.add_person, name="add_person"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/roles/", people.change_roles, name="change_roles"),
    path("people/<int:pk>/certificate/", people.add_certificate, name="add_certificate"),
    path("people/certificates/<int:pk>/void/", people.void_certificate, name="void_certificate"),
    path("people/<int:pk>/invite/", people.invite_person, name="invite_person"),
    path("people/<int:pk>/revoke-access/", people.revoke_access, name="revoke_access"),
    path("people/<int:pk>/restore-access/", people.restore_access, name="restore_access"),
    path("people/<int:pk>/stop-change/", people.stop_change, name="stop_change"),
    path("people/<int:pk>/reset-second-step/", people.reset_second_step, name="reset_second_step"),
    path("aircraft/", places.aircraft, name="aircraft"),
    path("aircraft/<int:pk>/", fleet.one_aircraft, name="one_aircraft"),
    path("aircraft/<int:pk>/documents/", fleet.add_aircraft_paper, name="add_aircraft_paper"),
    path("aircraft/documents/<int:pk>/", fleet.aircraft_document, name="aircraft_document"),
    path("attachments/<uuid:uid>/", attachments.attachment, name="attachment"),
    path("aircraft/documents/<int:pk>/void/", fleet.void_aircraft_paper, name="void_aircraft_paper"),
    path("aircraft/<int:pk>/service/", places.change_service, name="change_service"),
    path("aircraft/types/add/", places.add_type, name="add_type"),
    path("aircraft/types/<int:pk>/", places.change_type, name="change_type"),
    path("aircraft/types/<int:pk>/edit/", places.edit_type, name="edit_type"),
    path("aerodromes/", places.aerodromes, name="aerodromes"),
    path("aerodromes/<int:pk>/", places.aerodrome, name="aerodrome"),
    path("aerodromes/<int:pk>/runways/", places.add_runway, name="add_runway"),
    path("aerodromes/runways/<int:pk>/", places.edit_runway, name="edit_runway"),
    path("aerodromes/runways/<int:pk>/place/", runways.runway_place, name="runway_place"),
    path("display/", frame.choose_display, name="display"),
    path("manifest.webmanifest", frame.manifest, name="manifest"),
    path("marks/", frame.key_to_marks, name="key_to_marks"),
]

# allauth finds its pages by these names. A page of its that is not here does not exist, signing up among them.
allauth_pages = [
    path("login/", log_in, name="account_login"),
    path("login/passkey/", wrap_allauth_view(webauthn.login_webauthn), name="mfa_login_webauthn"),
    path("login/second-step/", wrap_allauth_view(second.authenticate), name="mfa_authenticate"),
    path("logout/", log_out, name="account_logout"),
    path("password-forgotten/", wrap_allauth_view(accounts.password_reset), name="account_reset_password"),
    path(
        "password-forgotten/sent/", wrap_allauth_view(account.password_reset_done), name="account_reset_password_done"
    ),
    path(
        "password-forgotten/set/",
        wrap_allauth_view(account.password_reset_from_key_done),
        name="account_reset_password_from_key_done",
    ),
    re_path(
        r"^password-forgotten/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>[^/]+)/$",
        wrap_allauth_view(account.password_reset_from_key),
        name="account_reset_password_from_key",
    ),
    path("account/password/", wrap_allauth_view(accounts.password_change), name="account_change_password"),
    path("account/e-mail/", wrap_allauth_view(accounts.email_change), name="account_email"),
    path("account/e-mail/<str:key>/", wrap_allauth_view(account.confirm_email), name="account_confirm_email"),
    path("account/confirm/", wrap_allauth_view(account.reauthenticate), name="account_reauthenticate"),
    path("account/confirm/code/", wrap_allauth_view(second.reauthenticate), name="mfa_reauthenticate"),
    path(
        "account/confirm/passkey/",
        wrap_allauth_view(webauthn.reauthenticate_webauthn),
        name="mfa_reauthenticate_webauthn",
    ),
    path("account/second-step/", second_step_index, name="mfa_index"),
    path("account/second-step/", second_step_index, name="mfa_list_webauthn"),
    path("account/second-step/codes/", wrap_allauth_view(totp.activate_totp), name="mfa_activate_totp"),
    path("account/second-step/codes/remove/", wrap_allauth_view(totp.deactivate_totp), name="mfa_deactivate_totp"),
    path("account/second-step/passkeys/", wrap_allauth_view(webauthn.add_webauthn), name="mfa_add_webauthn"),
    path(
        "account/second-step/passkeys/<int:pk>/remove/",
        wrap_allauth_view(webauthn.remove_webauthn),
        name="mfa_remove_webauthn",
    ),
    path(
        "account/second-step/recovery/", wrap_allauth_view(recovery.view_recovery_codes), name="mfa_view_recovery_codes"
    ),
    path(
        "account/second-step/recovery/new/",
        wrap_allauth_view(recovery.generate_recovery_codes),
        name="mfa_generate_recovery_codes",
    ),
]

urlpatterns = [
    path("", include((school_pages, "school"))),
    path("", include(allauth_pages)),
    path("", include("lessons.urls")),
    path("", include("grading.urls")),
]

handler400 = "school.views.frame.bad_request"
handler500 = "school.views.frame.server_error"
