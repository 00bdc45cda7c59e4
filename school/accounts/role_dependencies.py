"""Ask the apps above which open work depends on a person's roles.

This app must not import them, so each connects a receiver to `dependencies_requested`."""

from collections.abc import Collection
from typing import Any

from django.dispatch import Signal

from school.models import Person

# A receiver returns a list of sentences, each with what to do about it.
dependencies_requested = Signal()


def list_open_dependencies(person: Person, roles: Collection[str]) -> list[str]:
    """Return what is open in these roles, one sentence each."""
    answers: list[tuple[Any, Any]] = dependencies_requested.send(sender=Person, person=person, roles=roles)
    return [sentence for _, sentences in answers for sentence in sentences]
