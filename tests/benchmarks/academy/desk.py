"""Writes lessons as their signing would have left them: grades, counts, signatures, seals, the journal."""

import random
from datetime import datetime
from typing import Any

from django.db import models

from grading.actions.signing import INSTRUCTOR_MEANING, SOLO_MEANING, STUDENT_MEANING, counts_from_endings
from grading.evidence import lesson_payload
from grading.models import Grade, Seal, Signature
from grading.reading.grade_lines import step_columns
from grading.rules.marking import MarkedAttempt, propose_grade
from lessons.conditions import fill_wind_from_report
from lessons.models import Lesson, Manoeuvre
from lessons.rules.scale import GradingRule, Scale, Step, UnitKind
from school import journal
from school.models import Person
from tests.benchmarks.academy.bulk_copy import BulkTables
from tests.benchmarks.academy.chain import Chain, build_signature, seeded_uuid
from tests.benchmarks.academy.generated_people import SimulatedInstructor
from tests.benchmarks.academy.lesson_generator import LessonGenerator, SimulatedLesson

LOWERED_GRADE_SHARE = 0.02  # of the grades are given one step lower than proposed
ATTEMPTS_COUNTED = 2


class Desk:
    """Where lessons are signed; `chain`: the seals so far, also of what the office seals."""

    def __init__(self, tables: BulkTables, lesson_generator: LessonGenerator) -> None:
        self.tables, self.lesson_generator = tables, lesson_generator
        self.chain = Chain()

    def note(
        self, by: Person, at: datetime, what: str, subject: models.Model, after: dict[str, Any] | None = None
    ) -> None:
        self.tables.add(journal.build_entry(by=by, at=at, what=what, subject=subject, after=after))

    def begin(self, flown: SimulatedLesson, draw: random.Random) -> lesson_payload.LessonContents:
        """The lesson with all that was tapped in it."""
        lesson = flown.lesson
        self.tables.add(lesson)
        if lesson.supersedes_id:
            self.note(
                lesson.instructor, lesson.begun_at, "correction begun", lesson, {"reason": lesson.correction_reason}
            )
        else:
            said = {"unit": str(lesson.unit), "on": lesson.on}
            self.note(lesson.instructor, lesson.begun_at, "lesson begun", lesson, said)
        return self.lesson_generator.write(flown, draw)

    def sign(self, flown: SimulatedLesson, teacher: SimulatedInstructor, at: datetime, draw: random.Random) -> None:
        """Grades beside their proposals, counts, wind, signature and seal, as signing a lesson leaves them."""
        lesson = flown.lesson
        lesson.signed_at, lesson.signed_by = at, lesson.instructor
        lesson.takeoffs, lesson.landings = counts_from_endings([row.ending for row in flown.circuits])
        fill_wind_from_report(lesson)
        seen = self.begin(flown, draw)
        seen.grades = self._grades(flown, draw)
        meaning = SOLO_MEANING if lesson.unit.kind == UnitKind.SOLO else INSTRUCTOR_MEANING
        signature = build_signature(
            seeded_uuid(draw, at),
            teacher.person,
            Signature.Capacity.INSTRUCTOR,
            meaning,
            at,
            teacher,
            lesson_id=lesson.pk,
        )
        for row in (*seen.grades, signature):
            self.tables.add(row)
        record = lesson_payload.build_lesson_payload(lesson, signature, seen)
        self.tables.add(self.chain.link(Seal.Kind.LESSON, lesson.uid, record, at))
        self.note(teacher.person, at, "lesson signed", lesson, {"meaning": meaning})

    def acknowledge(self, lesson: Lesson, at: datetime, refused: bool, draw: random.Random) -> None:
        """The student's signature, or that they refuse it."""
        student, remark = lesson.enrolment.student, "The hours are not those flown." if refused else ""
        meaning = "I have read this record and do not sign it." if refused else STUDENT_MEANING
        act = Signature.Act.REFUSED if refused else Signature.Act.SIGNED
        signature = build_signature(
            seeded_uuid(draw, at),
            student,
            Signature.Capacity.STUDENT,
            meaning,
            at,
            lesson_id=lesson.pk,
            act=act.value,
            remark=remark,
        )
        self.tables.add(signature)
        record = {
            "format": lesson_payload.FORMAT,
            "record": "acknowledgement",
            "lesson": str(lesson.uid),
            "signature": lesson_payload.build_signature_payload(signature),
        }
        self.tables.add(self.chain.link(Seal.Kind.ACKNOWLEDGEMENT, signature.uid, record, at))
        self.note(student, at, "signature refused" if refused else "lesson acknowledged", lesson, {"remark": remark})

    def _grades(self, flown: SimulatedLesson, draw: random.Random) -> list[Grade]:
        """Of every manoeuvre flown, in the order of the syllabus."""
        marks = self.lesson_generator.marks(flown)
        flown_ones = sorted(
            (self.lesson_generator.catalogue.manoeuvres[code] for code in marks), key=lambda row: row.order
        )
        return [self._grade(flown, manoeuvre, marks[manoeuvre.code], draw) for manoeuvre in flown_ones]

    def _grade(
        self, flown: SimulatedLesson, manoeuvre: Manoeuvre, marks: list[MarkedAttempt], draw: random.Random
    ) -> Grade:
        scale = flown.grading_context.scale
        proposal = propose_grade(marks, scale)
        proposed, given = step_columns(proposal.step), step_columns(_choose_given_step(proposal.step, scale, draw))
        looked_at = marks[-ATTEMPTS_COUNTED:] if scale.rule is GradingRule.LAST_TWO else marks
        return Grade(
            lesson_id=flown.lesson.pk,
            manoeuvre=manoeuvre,
            proposed=proposed["level"],
            proposed_step=proposed["step"],
            explanation=proposal.sentence,
            given=given["level"],
            given_step=given["step"],
            help=max((mark.help for mark in looked_at), key=lambda word: word.rank).value,
        )


def _choose_given_step(proposed: Step, scale: Scale, draw: random.Random) -> Step:
    """Now and then the instructor gives less than is proposed."""
    place = scale.rank(proposed) - 1
    return scale.steps[place - 1] if draw.random() < LOWERED_GRADE_SHARE and place > 0 else proposed
