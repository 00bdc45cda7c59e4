"""List the codes and numbers of this school that a table may hold: what there is to choose from, with its meaning."""

from dataclasses import dataclass

from lessons.models import Syllabus
from school.models import AircraftType, Person, Role


@dataclass(frozen=True)
class SchoolWord:
    """A word to type into a column, and what it stands for."""

    word: str
    meaning: str

    def __str__(self) -> str:
        return f"“{self.word}” is {self.meaning}" if self.meaning else f"“{self.word}”"


def roster_words() -> dict[str, list[SchoolWord]]:
    """Return what each column of people takes, by the key of the column. Three queries."""
    instructors = Person.objects.active_with_role(Role.INSTRUCTOR).by_name()
    return {
        "roles": [SchoolWord(role.label, "") for role in Role],
        "syllabus": _newest_syllabuses(),
        "aircraft_type": _types(),
        "instructor": [SchoolWord(row.reference, row.name) for row in instructors],
    }


def aircraft_words() -> dict[str, list[SchoolWord]]:
    """Return what each column of aircraft takes, by the key of the column. One query."""
    return {"type": _types(), "in_service": [SchoolWord("yes", ""), SchoolWord("no", "")]}


def _types() -> list[SchoolWord]:
    return [SchoolWord(row.code, row.name) for row in AircraftType.objects.order_by("name")]


def _newest_syllabuses() -> list[SchoolWord]:
    """Return each syllabus once: a table enrols in the newest published issue of a code."""
    rows = Syllabus.objects.filter(published_on__isnull=False).order_by("code", "-issue").distinct("code")
    return [SchoolWord(row.code, str(row)) for row in rows]
