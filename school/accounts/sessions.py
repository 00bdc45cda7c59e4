"""End sessions of a person."""

from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session

from school.models import Person


def end_sessions(person: Person) -> None:
    """End every session of a person; the caller holds the transaction and writes the journal entry."""
    # The epoch is part of each session's hash, so this also ends sessions that UserSession does not list.
    person.session_epoch += 1
    person.save(update_fields=["session_epoch"])
    sessions = UserSession.objects.filter(user=person)
    Session.objects.filter(session_key__in=sessions.values("session_key")).delete()
    sessions.delete()
