"""Who may do what, as predicates over people. Access to objects is in the apps that own them."""

from school.models import Person


def can_teach(person: Person) -> bool:
    return person.is_active and person.is_instructor


def can_see_all_students(person: Person) -> bool:
    return person.is_active and (person.is_instructor or person.is_chief or person.is_records_admin)


def can_decide(person: Person) -> bool:
    """Decide on solo: set a school requirement aside, release, withdraw."""
    return person.is_active and person.is_chief


def can_print_runs(person: Person) -> bool:
    """Print the sheets of many students at once and hand them over."""
    return person.is_active and (person.is_chief or person.is_records_admin)


def can_keep_records(person: Person) -> bool:
    """Enrol, keep papers, print."""
    return person.is_active and person.is_records_admin
