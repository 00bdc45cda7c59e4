"""Whether a person has a second step of logging in, and who must have one."""

from allauth.mfa.models import Authenticator
from django.conf import settings
from django.db.models import Exists, OuterRef

from school.models import Person

SECOND_STEP_TYPES = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)  # recovery codes stand in for one of these


def is_required(person: Person) -> bool:
    return bool(settings.SECOND_STEP_REQUIRED and (person.is_chief or person.is_records_admin))


def is_set_up(person: Person) -> bool:
    found: bool = Authenticator.objects.filter(user=person, type__in=SECOND_STEP_TYPES).exists()
    return found


def exists_annotation() -> Exists:
    """The same for a list of people, within its query."""
    return Exists(Authenticator.objects.filter(user=OuterRef("pk"), type__in=SECOND_STEP_TYPES))
