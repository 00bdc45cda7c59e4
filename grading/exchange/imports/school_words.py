"""List the codes and numbers of this school that a table may hold: what there is to choose from, with its meaning."""

from dataclasses import dataclass

from lessons.models import Manoeuvre, Syllabus
from lessons.rules.scale import Level
from school.models import Aircraft, AircraftType, Person, Role


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


def past_lesson_words(graded_parts: tuple[str, ...]) -> dict[str, list[SchoolWord]]:
    """Return what each column of past lessons takes, by the key of the column. Three queries."""
    levels = [SchoolWord(level.label, "") for level in Level if level.observed]
    issues = [row.pk for row in _newest_issues()]
    others = Manoeuvre.objects.filter(syllabus__in=issues).exclude(code__in=graded_parts).order_by("code")
    return {
        "aircraft": [
            SchoolWord(row.registration, row.type.name)
            for row in Aircraft.objects.select_related("type").order_by("registration")
        ],
        **{f"grade_{part}": levels for part in graded_parts},
        # Two syllabuses may teach the same manoeuvre.
        "other_grades": [SchoolWord(code, title) for code, title in dict(others.values_list("code", "title")).items()],
    }


def _types() -> list[SchoolWord]:
    return [SchoolWord(row.code, row.name) for row in AircraftType.objects.order_by("name")]


def _newest_syllabuses() -> list[SchoolWord]:
    return [SchoolWord(row.code, str(row)) for row in _newest_issues()]


def _newest_issues() -> list[Syllabus]:
    """Return each syllabus once: a table enrols in the newest published issue of a code."""
    rows = Syllabus.objects.filter(published_on__isnull=False).order_by("code", "-issue").distinct("code")
    return list(rows)
