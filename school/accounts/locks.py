"""Lock people before their accounts are changed."""

from school.errors import Refusal
from school.models import Person, Role
from school.permissions import can_manage_people


def lock_people(person: Person, by: Person) -> tuple[Person, Person]:
    """Lock both people and every administrator, and return both as they are now. Only an administrator may go on."""
    keys = Person.objects.filter(roles__contains=[Role.ADMIN]).values_list("pk", flat=True)
    # All administrators are locked so that two of them cannot remove each other at one time and leave nobody.
    # One statement locks the rows in the order of their keys, so that two such actions cannot deadlock. FOR NO KEY
    # UPDATE lets others insert rows that refer to these people meanwhile, as every action that names its author does.
    locked = Person.objects.select_for_update(no_key=True).filter(pk__in={*keys, person.pk, by.pk})
    people = locked.order_by("pk").in_bulk()
    # Rights are checked on the locked row: the request's copy may be older than a change of roles.
    by = people[by.pk]
    if not can_manage_people(by):
        raise Refusal("Only the administrator manages people. Nothing was changed.")
    person = people[person.pk]
    if person.username.startswith("erased "):  # no login name holds a space
        raise Refusal("This record was erased: nobody can log in with it, and nothing can be added to it.")
    return person, by


def lock_person(person: Person) -> Person:
    """Lock one person and return them as they are now."""
    locked: Person = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    return locked
