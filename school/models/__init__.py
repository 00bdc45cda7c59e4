from school.models.aerodromes import Aerodrome, Runway
from school.models.aircraft import Aircraft, AircraftType
from school.models.certificates import SigningCertificate
from school.models.journal import JournalEntry
from school.models.papers import Paper
from school.models.people import Person, Role
from school.models.school import School

__all__ = [
    "Aerodrome",
    "Aircraft",
    "AircraftType",
    "JournalEntry",
    "Paper",
    "Person",
    "Role",
    "Runway",
    "School",
    "SigningCertificate",
]
