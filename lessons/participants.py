"""People of an enrolment or a lesson, held while it is written."""

from school.errors import Refusal
from school.models import Person


def lock_people(*people: Person) -> list[Person]:
    """As they stand now, until the end of the transaction: no role of theirs is taken meanwhile.

    Before any enrolment is locked, as whoever changes people does.
    """
    rows = Person.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=[one.pk for one in people])
    found = rows.order_by("pk").in_bulk()
    return [found[one.pk] for one in people]


def lock_instructor(person: Person) -> Person:
    """Held, and on record as an instructor."""
    [found] = lock_people(person)
    refuse_unless_instructor(found)
    return found


def refuse_unless_instructor(person: Person) -> None:
    if not person.is_instructor:
        raise Refusal(f"{person} is not on record as an instructor.")


def refuse_own_training(student: int, person: Person) -> None:
    """`student`: the key of whose training it is."""
    if person.pk == student:
        raise Refusal(f"Nobody teaches or decides in their own training: somebody else does this for {person}.")
