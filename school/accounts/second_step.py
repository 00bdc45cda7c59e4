"""Tell whether a person has a second step of logging in, and who must have one."""

from allauth.mfa.models import Authenticator
from django.conf import settings
from django.db.models import Exists, OuterRef

from school.models import Person

# Recovery codes do not count: they only replace one of these when it is lost.
SECOND_STEP_TYPES = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)


def is_required(person: Person) -> bool:
    # The one decides about solo, the other opens accounts: a stolen password alone must not log in as one of them.
    return bool(settings.SECOND_STEP_REQUIRED and (person.is_chief or person.is_records_admin))


def is_set_up(person: Person) -> bool:
    exists: bool = Authenticator.objects.filter(user=person, type__in=SECOND_STEP_TYPES).exists()
    return exists


def exists_annotation() -> Exists:
    """Return is_set_up as an annotation for a query of people, to avoid one query each."""
    return Exists(Authenticator.objects.filter(user=OuterRef("pk"), type__in=SECOND_STEP_TYPES))
