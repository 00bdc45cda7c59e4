"""Make and check the link in an invitation: the invitation's id, signed with the server's secret."""

import uuid
from datetime import datetime

from django.core import signing

from school.models import Invitation

# A salt of its own, so that no other text that the server signed passes as an invitation.
SALT = "school.invitation"


def sign_link(invitation: Invitation) -> str:
    # No time is signed: the row says until when the invitation is open.
    return signing.Signer(salt=SALT).sign(invitation.uid.hex)


def find_open_invitation(link: str, at: datetime) -> Invitation | None:
    """Return the invitation of a link, or None if it no longer opens anything.

    It must be ours, unused, in time and the newest of its person, and the person may log in but has no password yet.
    """
    try:
        uid = uuid.UUID(signing.Signer(salt=SALT).unsign(link))
    except (signing.BadSignature, ValueError):
        return None
    invitation = Invitation.objects.select_related("person").filter(uid=uid).first()
    if (
        invitation is None
        or not invitation.is_open(at)
        or not invitation.person.is_active
        or invitation.person.has_usable_password()
    ):
        return None
    # An address that was corrected since may have been a stranger's, who must not open the account.
    if invitation.email != invitation.person.email:
        return None
    # No column marks a replaced invitation: a newer row is enough to close every earlier link.
    newest = Invitation.objects.filter(person=invitation.person).order_by("-invited_at", "-pk").first()
    return invitation if newest == invitation else None
