"""Compare what two standards say of the students in training today, in a fixed number of queries."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from grading.reading.facts import load_facts_and_rows
from grading.rules.readiness import StandardSpec, Verdict, assess
from lessons.models import Enrolment

# Some ten milliseconds a student with years of lessons: so many are derived while somebody waits.
STUDENTS_AT_ONCE = 300


@dataclass(frozen=True)
class RequirementChange:
    """One requirement that counts under one standard and not under the other, with what each says of it."""

    title: str
    before: str
    after: str


@dataclass(frozen=True)
class StudentChange:
    """A student for whom requirements change, and whether the verdict does."""

    enrolment: Enrolment
    before: Verdict
    after: Verdict
    requirements: tuple[RequirementChange, ...]

    @property
    def verdict_changes(self) -> bool:
        return self.before.ready != self.after.ready


@dataclass(frozen=True)
class StandardComparison:
    """What would change for the students `first` to `last`, counted from 1 by name, of `total`."""

    verdicts: list[StudentChange]
    requirements_only: list[StudentChange]
    first: int
    last: int
    total: int

    @property
    def compared(self) -> int:
        return self.last - self.first + 1 if self.total else 0

    @property
    def unchanged(self) -> int:
        return self.compared - len(self.verdicts)

    @property
    def is_part(self) -> bool:
        return self.compared < self.total

    @property
    def after_these(self) -> int | None:
        """Return how many come before the next part; None after the last student."""
        return self.last if self.last < self.total else None


def compare_standards(in_force: StandardSpec, draft: StandardSpec, on: date, skip: int = 0) -> StandardComparison:
    """Return whose verdict of today the draft would change, by name: at most STUDENTS_AT_ONCE, after `skip` of them.

    Twelve queries, however many students.
    """
    in_training = Enrolment.objects.active(on)
    total = in_training.count()
    skip = skip if skip < total else 0
    by_name = in_training.for_pages().order_by("student__family_name", "student__given_name", "pk")
    enrolments = list(by_name[skip : skip + STUDENTS_AT_ONCE])
    changes = list(_changes(enrolments, in_force, draft, on))
    return StandardComparison(
        [row for row in changes if row.verdict_changes],
        [row for row in changes if not row.verdict_changes],
        skip + 1,
        skip + len(enrolments),
        total,
    )


def _changes(
    enrolments: Sequence[Enrolment], in_force: StandardSpec, draft: StandardSpec, on: date
) -> Iterator[StudentChange]:
    read = load_facts_and_rows(enrolments, on)
    for enrolment in enrolments:
        facts, _ = read[enrolment.pk]
        before, after = assess(facts, in_force, on), assess(facts, draft, on)
        requirements = tuple(_requirement_changes(before, after))
        if requirements:
            yield StudentChange(enrolment, before, after, requirements)


def _requirement_changes(before: Verdict, after: Verdict) -> Iterator[RequirementChange]:
    """Yield each requirement that makes a difference: met and not, or required by one of the two and open."""
    old = {row.key: row for row in before.requirements}
    new = {row.key: row for row in after.requirements}
    for key in [*new, *(key for key in old if key not in new)]:
        was, will = old.get(key), new.get(key)
        if (was is None or was.state.counts) == (will is None or will.state.counts):
            continue
        row = will or was
        assert row is not None
        yield RequirementChange(
            row.title,
            f"{was.state.label}: {was.how_far}" if was else "not required",
            f"{will.state.label}: {will.how_far}" if will else "no longer required",
        )
