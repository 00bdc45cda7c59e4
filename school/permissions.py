"""Who may do what, as predicates over people. Access to objects is in the apps that own them."""

from school.models import Person


def can_teach(person: Person) -> bool:
    return person.is_active and person.is_instructor


def can_see_all_students(person: Person) -> bool:
    return person.is_active and (person.is_instructor or person.is_chief or person.is_records_admin)


def can_decide(person: Person) -> bool:
    """Decide on solo: set a school requirement aside, release, withdraw."""
    return person.is_active and person.is_chief


def can_transfer_record(person: Person, student: Person) -> bool:
    """Take a student's whole record out of the school: the student their own (14 CFR 141.101(e))."""
    return person.is_active and (person.is_records_admin or person.is_chief or person.pk == student.pk)


def can_print_runs(person: Person) -> bool:
    """Print the sheets of many students at once and hand them over."""
    return person.is_active and (person.is_chief or person.is_records_admin)


def can_manage_records(person: Person) -> bool:
    """Enrol, keep papers, print."""
    return person.is_active and person.is_records_admin


def can_erase(person: Person) -> bool:
    """Take part in the erasure of a record whose time of keeping is over; it takes two."""
    return person.is_active and (person.is_records_admin or person.is_chief)


def can_see_settings(person: Person) -> bool:
    """The school's settings: the administrator keeps them; rule set and countersigning are the chief's."""
    return person.is_active and (person.is_records_admin or person.is_chief)


def can_manage_people(person: Person) -> bool:
    """Invite, edit, give roles and access."""
    return person.is_active and person.is_records_admin


def can_manage_places(person: Person) -> bool:
    """Keep aircraft, aerodromes and runways."""
    return person.is_active and (person.is_records_admin or person.is_chief)
