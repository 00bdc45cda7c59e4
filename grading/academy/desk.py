"""Writes what the people of the academy do as the actions would have left it, and the journal beside it."""

import random
from datetime import date, datetime, timedelta
from typing import Any

from django.db import models

from grading import records
from grading.academy.chain import Chain, drawn_uid, signature_of
from grading.academy.flown import Flown
from grading.academy.people import Teacher
from grading.academy.tables import Tables
from grading.actions.decisions import CHIEF_MEANING, Limits
from grading.actions.signing import INSTRUCTOR_MEANING, SOLO_MEANING, STUDENT_MEANING, counted_of
from grading.demo.catalogue import Catalogue
from grading.demo.people import PASSWORD, Learner
from grading.demo.school import QuickHasher
from grading.models import Grade, Release, Seal, Signature
from grading.proposals import GradeLine, lines_of, said_of
from grading.readiness import Verdict
from grading.readiness.json_form import verdict_to_json
from lessons.conditions import settle_wind
from lessons.models import Endorsement, Enrolment, KnowledgeTest, Lesson
from lessons.scale import UnitKind
from school import journal
from school.models import AircraftType, Paper, Person, Role

CHANGED = 0.02  # of the grades are given one step lower than proposed
TRAINED = "I gave this student the training of 14 CFR 61.87 in this make and model and found them safe alone."


class Desk:
    """`admin` keeps the papers, `chief` releases."""

    def __init__(self, tables: Tables, catalogue: Catalogue, admin: Person, chief: Teacher) -> None:
        self.tables, self.catalogue, self.admin, self.chief = tables, catalogue, admin, chief
        self.chain = Chain()
        self.hasher = QuickHasher()

    def note(
        self, by: Person, at: datetime, what: str, subject: models.Model, after: dict[str, Any] | None = None
    ) -> None:
        self.tables.add(journal.entry_of(by=by, at=at, what=what, subject=subject, after=after))

    def enrol(
        self, learner: Learner, kind: AircraftType, teacher: Teacher, at: datetime, draw: random.Random
    ) -> Enrolment:
        """The student, their papers and their enrolment."""
        born = date(at.year - learner.age, draw.randint(1, 12), draw.randint(1, 28)) - timedelta(days=365)
        student = Person(
            pk=self.tables.key(Person),
            username=learner.username,
            password=self.hasher.encode(PASSWORD, f"{draw.getrandbits(64):016x}"),
            given_name=learner.given,
            family_name=learner.family,
            reference=learner.reference,
            born=born,
            roles=[Role.STUDENT.value],
        )
        enrolment = Enrolment(
            pk=self.tables.key(Enrolment),
            uid=drawn_uid(draw),
            student=student,
            syllabus=self.catalogue.units[0].stage.syllabus,
            aircraft_type=kind,
            instructor=teacher.person,
            enrolled_on=at.date(),
        )
        self.tables.add(student)
        self.tables.add(enrolment)
        said = {"name": student.name, "reference": student.reference, "roles": student.roles, "born": born}
        self.note(self.admin, at, "person added", student, said)
        after = {
            "syllabus": str(enrolment.syllabus),
            "type": str(kind),
            "instructor": teacher.person.name,
            "on": at.date(),
        }
        self.note(self.admin, at, "enrolled", enrolment, after)
        examined = at.date() - timedelta(days=round(30.44 * learner.medical_months_ago))
        for what, class_, issued in (
            ("student_certificate", "", at.date()),
            ("english", "", at.date()),
            ("medical", "3", examined),
        ):
            self.paper(student, what, class_, issued, at)
        return enrolment

    def paper(self, person: Person, kind: str, class_: str, issued: date, at: datetime) -> None:
        paper = Paper(
            pk=self.tables.key(Paper),
            person=person,
            kind=kind,
            number=f"{kind[:2].upper()}-{person.reference[3:]}",
            medical_class=class_,
            issued=issued,
            recorded_at=at,
            recorded_by=self.admin,
        )
        self.tables.add(paper)
        self.note(self.admin, at, "paper recorded", paper, {"kind": kind, "number": paper.number, "issued": issued})

    def test(self, enrolment: Enrolment, teacher: Teacher, at: datetime, draw: random.Random) -> None:
        """The pre-solo knowledge test, every wrong answer reviewed."""
        test = KnowledgeTest(
            pk=self.tables.key(KnowledgeTest),
            uid=drawn_uid(draw),
            enrolment=enrolment,
            aircraft_type=enrolment.aircraft_type,
            taken_on=at.date(),
            topics=["rules", "aerodrome", "make_and_model"],
            questions=50,
            wrong=draw.randint(0, 7),
            reviewed_on=at.date(),
            given_by=teacher.person,
            recorded_at=at,
            recorded_by=teacher.person,
        )
        self.tables.add(test)
        after = {"title": test.title, "taken": at.date(), "topics": test.topics, "wrong": test.wrong}
        self.note(teacher.person, at, "test recorded", test, after)

    def endorse(
        self,
        enrolment: Enrolment,
        kind: str,
        paragraph: str,
        text: str,
        teacher: Teacher,
        at: datetime,
        draw: random.Random,
    ) -> None:
        endorsement = Endorsement(
            pk=self.tables.key(Endorsement),
            uid=drawn_uid(draw),
            enrolment=enrolment,
            kind=kind,
            paragraph=paragraph,
            aircraft_type=enrolment.aircraft_type,
            text=text,
            given_on=at.date(),
            given_by=teacher.person,
            certificate_number=teacher.certificate,
            recorded_at=at,
            recorded_by=teacher.person,
        )
        self.tables.add(endorsement)
        self.note(teacher.person, at, "endorsed", endorsement, {"paragraph": paragraph, "on": at.date()})

    def begin(self, flown: Flown) -> None:
        """The lesson with all that was tapped in it."""
        lesson = flown.lesson
        self.tables.add(lesson)
        self.tables.add_taps(flown.taps)
        for row in (*flown.circuits, *flown.attempts):
            self.tables.add(row)
        for attempt in flown.attempts:
            for seen in (*attempt.faults_seen.all(), *attempt.criteria_seen.all(), *attempt.measures.all()):
                self.tables.add(seen)
        what = "correction begun" if lesson.supersedes_id else "lesson begun"
        self.note(lesson.instructor, lesson.begun_at, what, lesson, {"unit": str(lesson.unit), "on": lesson.on})

    def sign(self, flown: Flown, teacher: Teacher, at: datetime, draw: random.Random) -> None:
        """Grades beside their proposals, counts, wind, signature and seal, as signing a lesson leaves them."""
        lesson = flown.lesson
        lines = lines_of(lesson, flown.attempts, flown.ruler, [], self.catalogue.asked[lesson.unit_id])
        given = [(line, self._given(line, draw)) for line in lines if line.given is not None]
        grades = sorted((self._grade(lesson, line, step) for line, step in given), key=lambda row: row.manoeuvre.order)
        lesson.takeoffs, lesson.landings = counted_of([circuit.ending for circuit in flown.circuits])
        settle_wind(lesson)
        self.begin(flown)
        meaning = SOLO_MEANING if lesson.unit.kind == UnitKind.SOLO else INSTRUCTOR_MEANING
        signature = signature_of(
            drawn_uid(draw), teacher.person, Signature.Capacity.INSTRUCTOR, meaning, at, teacher, lesson
        )
        for row in (*grades, signature):
            self.tables.add(row)
        record = records.lesson_record(lesson, signature, flown.seen(grades))
        self.tables.add(self.chain.link(Seal.Kind.LESSON, lesson.uid, record, at))
        self.tables.sign(lesson, at)
        self.note(teacher.person, at, "lesson signed", lesson, {"meaning": meaning})

    def _given(self, line: GradeLine, draw: random.Random) -> Any:
        """Now and then the instructor gives less than is proposed."""
        steps = self.catalogue.units[0].stage.syllabus.scale.scale.steps if draw.random() < CHANGED else ()
        place = steps.index(line.proposed) if line.proposed in steps else 0
        return steps[place - 1] if place else line.given

    def _grade(self, lesson: Lesson, line: GradeLine, step: Any) -> Grade:
        proposed, given = said_of(line.proposed), said_of(step)
        return Grade(
            lesson_id=lesson.pk,
            manoeuvre=line.manoeuvre,
            proposed=proposed["level"],
            proposed_step=proposed["step"],
            explanation=line.explanation,
            given=given["level"],
            given_step=given["step"],
            help=line.help.value,
        )

    def acknowledge(self, lesson: Lesson, at: datetime, refused: bool, draw: random.Random) -> None:
        """The student's signature, or that they refuse it."""
        student, remark = lesson.enrolment.student, "The hours are not those flown." if refused else ""
        meaning = "I have read this record and do not sign it." if refused else STUDENT_MEANING
        act = Signature.Act.REFUSED if refused else Signature.Act.SIGNED
        signature = signature_of(
            drawn_uid(draw),
            student,
            Signature.Capacity.STUDENT,
            meaning,
            at,
            lesson=lesson,
            act=act.value,
            remark=remark,
        )
        self.tables.add(signature)
        record = {
            "format": records.FORMAT,
            "record": "acknowledgement",
            "lesson": str(lesson.uid),
            "signature": records.signature_record(signature),
        }
        self.tables.add(self.chain.link(Seal.Kind.ACKNOWLEDGEMENT, signature.uid, record, at))
        self.note(student, at, "signature refused" if refused else "lesson acknowledged", lesson, {"remark": remark})

    def release(
        self,
        enrolment: Enrolment,
        limits: Limits,
        verdict: Verdict,
        teacher: Teacher,
        training_on: date,
        at: datetime,
        draw: random.Random,
    ) -> Release:
        """The instructor's endorsement and, on it, the chief's release for some weeks."""
        kind = Endorsement.Kind.PRE_SOLO_TRAINING.value
        self.endorse(enrolment, kind, "14 CFR 61.87(n)", TRAINED, teacher, at, draw)
        release = Release(
            pk=self.tables.key(Release),
            uid=drawn_uid(draw),
            enrolment=enrolment,
            kind=Release.Kind.DAY.value,
            endorsement=TRAINED,
            aircraft_type=enrolment.aircraft_type,
            **vars(limits),
            valid_from=at.date(),
            valid_until=min(at.date() + timedelta(days=60), training_on + timedelta(days=90)),
            training_on=training_on,
            endorsed_by=teacher.person,
            reason="Seen by me; what is open is flown next." if verdict.unmet else "",
            verdict=verdict_to_json(verdict),
            decided_at=at,
            decided_by=self.chief.person,
        )
        signature = signature_of(
            drawn_uid(draw), self.chief.person, Signature.Capacity.CHIEF, CHIEF_MEANING, at, self.chief,
            release_id=release.pk,
        )  # fmt: skip
        self.tables.add(release)
        self.tables.add(signature)
        self.tables.add(self.chain.link(Seal.Kind.RELEASE, release.uid, records.release_record(release, signature), at))
        self.note(self.chief.person, at, "released for solo", release, {"until": release.valid_until})
        return release

    def end(self, enrolment: Enrolment, how: Enrolment.End, at: datetime) -> None:
        self.tables.end(enrolment, at, how.value)
        self.note(self.admin, at, "enrolment ended", enrolment, {"on": at.date(), "end": how.value})
