"""What still hangs on the roles of a person. The apps above know it and say it: each connects to `asked`."""

from collections.abc import Collection
from typing import Any

from django.dispatch import Signal

from school.models import Person

# Answered with a list of sentences, each with what is done about it.
dependencies_requested = Signal()


def list_open_dependencies(person: Person, roles: Collection[str]) -> list[str]:
    """What is open in these roles, a sentence each."""
    answers: list[tuple[Any, Any]] = dependencies_requested.send(sender=Person, person=person, roles=roles)
    return [sentence for _, said in answers for sentence in said]
