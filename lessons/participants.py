"""Lock the people of an enrolment or a lesson while it is written."""

from school.errors import Refusal
from school.models import Person


def lock_people(*people: Person) -> list[Person]:
    """Lock people until the end of the transaction and return them as they are now, so that no role changes meanwhile.

    Call this before locking an enrolment: every action locks people first, so that no two deadlock.
    """
    # FOR NO KEY UPDATE: others may still write rows that refer to these people.
    rows = Person.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=[one.pk for one in people])
    # One statement in the order of the keys, whatever order the caller names, so that two calls cannot deadlock.
    locked = rows.order_by("pk").in_bulk()
    return [locked[one.pk] for one in people]


def lock_instructor(person: Person) -> Person:
    """Lock a person and refuse unless they are an instructor."""
    [instructor] = lock_people(person)
    # After the lock: before it, the role could be removed between the check and the write.
    refuse_unless_instructor(instructor)
    return instructor


def refuse_unless_instructor(person: Person) -> None:
    if not person.is_instructor:
        raise Refusal(f"{person} is not on record as an instructor.")


def refuse_own_training(student: int, person: Person) -> None:
    """Refuse if the person is the student, given by primary key."""
    if person.pk == student:
        raise Refusal(f"Nobody may teach or decide in their own training: somebody else must do this for {person}.")
