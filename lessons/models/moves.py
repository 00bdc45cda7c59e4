"""Store how a student was moved to another issue of a syllabus, and what each old unit counts as there."""

from typing import ClassVar

from django.db import models

from lessons.models.enrolment import Enrolment
from lessons.models.syllabus import Syllabus, Unit
from school.models import Person


class SyllabusMove(models.Model):
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="moves")
    # Both are stored: the enrolment has the present syllabus only and may be moved again.
    before = models.ForeignKey(Syllabus, on_delete=models.PROTECT, related_name="+")
    after = models.ForeignKey(Syllabus, on_delete=models.PROTECT, related_name="+")
    moved_at = models.DateTimeField()
    moved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.enrolment.student} from {self.before} to {self.after}"


class UnitMapping(models.Model):
    """Map an old unit to a new one.

    `new` None: what was flown in the old unit counts for no unit of the new syllabus. It stays on record.
    """

    move = models.ForeignKey(SyllabusMove, on_delete=models.PROTECT, related_name="mappings")
    old = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="+")
    new = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # With two meanings in one move, a unit that was flown once would count twice.
            models.UniqueConstraint(fields=["move", "old"], name="unitmapping_unique")
        ]

    def __str__(self) -> str:
        return f"{self.old} counts as {self.new or 'nothing'}"
