from school.models.aerodromes import Aerodrome, Obstacle, Runway
from school.models.aircraft import Aircraft, AircraftType
from school.models.certificates import SigningCertificate
from school.models.invitations import Invitation
from school.models.journal import JournalEntry
from school.models.papers import AircraftPaper, Attachment, Paper
from school.models.people import Person, Role
from school.models.school import School

__all__ = [
    "Aerodrome",
    "Aircraft",
    "AircraftPaper",
    "AircraftType",
    "Attachment",
    "Invitation",
    "JournalEntry",
    "Obstacle",
    "Paper",
    "Person",
    "Role",
    "Runway",
    "School",
    "SigningCertificate",
]
