"""The link in an invitation: the invitation's id under the school's signature."""

import uuid
from datetime import datetime

from django.core import signing

from school.models import Invitation

SALT = "school.invitation"


def sign_link(invitation: Invitation) -> str:
    return signing.Signer(salt=SALT).sign(invitation.uid.hex)


def find_open_invitation(link: str, at: datetime) -> Invitation | None:
    """The invitation, if the link is ours, unused, in time, the newest of its person, and the person may log in.

    And the letter went to the address that stands there now: one that was mistyped is a stranger's.
    """
    try:
        uid = uuid.UUID(signing.Signer(salt=SALT).unsign(link))
    except (signing.BadSignature, ValueError):
        return None
    found = Invitation.objects.select_related("person").filter(uid=uid).first()
    if found is None or not found.is_open(at) or not found.person.is_active or found.person.has_usable_password():
        return None
    if found.email != found.person.email:
        return None
    newest = Invitation.objects.filter(person=found.person).order_by("-invited_at", "-pk").first()
    return found if newest == found else None
