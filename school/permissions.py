"""Say who may do what, as predicates over people. Access to objects is in the apps that own them."""

from school.models import Person


# Each asks for is_active first: a revoked access ends every right, also one that is asked for outside a session.
def can_teach(person: Person) -> bool:
    return person.is_active and person.is_instructor


def can_see_all_students(person: Person) -> bool:
    return person.is_active and (person.is_instructor or person.is_chief or person.is_records_admin)


def can_decide(person: Person) -> bool:
    """Return whether a person decides on solo: sets a school requirement aside, releases, withdraws."""
    return person.is_active and person.is_chief


def can_transfer_record(person: Person, student: Person) -> bool:
    """Return whether a person may transfer a student's whole record; students their own too (14 CFR 141.101(e))."""
    return person.is_active and (person.is_records_admin or person.is_chief or person.pk == student.pk)


def can_print_runs(person: Person) -> bool:
    """Return whether a person may print the sheets of many students at once."""
    return person.is_active and (person.is_chief or person.is_records_admin)


def can_manage_records(person: Person) -> bool:
    """Return whether a person enrols students, records documents and prints."""
    return person.is_active and person.is_records_admin


def can_see_records(person: Person) -> bool:
    """Return whether a person opens a student's record: documents, findings, printed sheets."""
    return person.is_active and (person.is_chief or person.is_records_admin)


def can_reassign(person: Person) -> bool:
    """Return whether a person may assign a student to another instructor."""
    return person.is_active and (person.is_chief or person.is_records_admin)


def can_see_instructor(person: Person, instructor: Person) -> bool:
    """Return whether a person sees an instructor's page: the office any, an instructor their own."""
    return person.is_active and (person.is_chief or person.is_records_admin or person.pk == instructor.pk)


def can_settle_findings(person: Person) -> bool:
    """Return whether a person marks a finding as done: the office, and never who has to correct it alone."""
    return person.is_active and (person.is_chief or person.is_records_admin)


def can_erase(person: Person) -> bool:
    """Return whether a person may be one of the two who erase a record after its retention."""
    return person.is_active and (person.is_records_admin or person.is_chief)


def can_see_settings(person: Person) -> bool:
    """Return whether a person sees the settings; which of them they may change is decided in school/actions.py."""
    return person.is_active and (person.is_records_admin or person.is_chief)


def can_manage_people(person: Person) -> bool:
    """Return whether a person invites and edits people and changes their roles and access."""
    return person.is_active and person.is_records_admin


def can_manage_places(person: Person) -> bool:
    """Return whether a person changes aircraft, aerodromes and runways."""
    return person.is_active and (person.is_records_admin or person.is_chief)
