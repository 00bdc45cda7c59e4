"""Store grade scales: ordered steps that each mean a level. An issue never changes under old grades."""

from typing import ClassVar

from django.db import models

from lessons.rules.scale import GradingRule, Level, Scale, Step


class GradeScale(models.Model):
    """Store one issue of a scale.

    `steps`: a list of {code, label, level, meaning} from the lowest to the highest (lessons.rules.scale.Step).
    """

    code = models.SlugField(max_length=40)
    issue = models.PositiveSmallIntegerField(default=1)
    title = models.CharField(max_length=60)
    rule = models.CharField(max_length=10, choices=[(rule.value, rule.value) for rule in GradingRule])
    solo = models.CharField("lowest step to standard alone", max_length=12)
    steps = models.JSONField()

    class Meta:
        constraints: ClassVar[list[models.BaseConstraint]] = [
            models.UniqueConstraint(fields=["code", "issue"], name="gradescale_issue_unique")
        ]

    def __str__(self) -> str:
        return f"{self.title}, issue {self.issue}"

    @property
    def scale(self) -> Scale:
        steps = tuple(
            Step(row["code"], row["label"], Level(row["level"]), row.get("meaning", "")) for row in self.steps
        )
        return Scale(self.code, self.title, steps, self.solo, GradingRule(self.rule))
