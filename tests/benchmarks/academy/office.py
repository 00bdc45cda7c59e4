"""Writes what the office and the chief instructor of the academy do, as the actions would have left it."""

import random
from datetime import date, datetime, timedelta

from grading.actions import endorsements, training
from grading.actions.decisions import CHIEF_MEANING
from grading.actions.release_rules import ReleaseLimits
from grading.evidence import lesson_payload, training_payloads
from grading.models import Release, Seal, SetAside, Signature
from grading.rules.readiness import Verdict
from grading.rules.readiness.json_format import verdict_to_json
from grading.simulation.demo.catalogue import Catalogue
from grading.simulation.demo.demo_people import PASSWORD, Learner
from grading.simulation.demo.demo_school import QuickHasher
from lessons.models import Endorsement, Enrolment, KnowledgeTest, Lesson
from school.models import AircraftType, Paper, Person, Role
from tests.benchmarks.academy.chain import build_signature, seeded_uuid
from tests.benchmarks.academy.desk import Desk
from tests.benchmarks.academy.generated_people import SimulatedInstructor

QUESTIONS, MAX_WRONG = 50, 7
RELEASE_DAYS = 60
SET_ASIDE_REASON = "Seen by me in the circuit today; what is asked for was shown in another way."


class Office:
    """`admin` keeps the papers, `chief` decides."""

    def __init__(self, desk: Desk, catalogue: Catalogue, admin: Person, chief: SimulatedInstructor) -> None:
        self.desk, self.tables, self.admin, self.chief = desk, desk.tables, admin, chief
        self.syllabus = catalogue.units[0].stage.syllabus
        self.hasher = QuickHasher()

    def enrol(
        self, learner: Learner, kind: AircraftType, teacher: SimulatedInstructor, at: datetime, draw: random.Random
    ) -> tuple[Enrolment, list[Paper]]:
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
            uid=seeded_uuid(draw, at),
            student=student,
            syllabus=self.syllabus,
            aircraft_type=kind,
            instructor=teacher.person,
            enrolled_on=at.date(),
        )
        self.tables.add(student)
        self.tables.add(enrolment)
        said = {"name": student.name, "reference": student.reference, "roles": student.roles, "born": born}
        self.desk.note(self.admin, at, "person added", student, said)
        after = {
            "syllabus": str(enrolment.syllabus),
            "type": str(kind),
            "instructor": teacher.person.name,
            "on": at.date(),
        }
        self.desk.note(self.admin, at, "enrolled", enrolment, after)
        examined = at.date() - timedelta(days=round(30.44 * learner.medical_months_ago))
        papers = (("student_certificate", "", at.date()), ("english", "", at.date()), ("medical", "3", examined))
        return enrolment, [self._paper(student, *paper, at) for paper in papers]

    def _paper(self, person: Person, kind: str, class_: str, issued: date, at: datetime) -> Paper:
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
        said = {"kind": kind, "number": paper.number, "issued": issued}
        self.desk.note(self.admin, at, "paper recorded", paper, said)
        return paper

    def test(
        self, enrolment: Enrolment, teacher: SimulatedInstructor, at: datetime, reviewed: bool, draw: random.Random
    ) -> KnowledgeTest:
        """The pre-solo knowledge test, its wrong answers reviewed on the spot or later."""
        test = KnowledgeTest(
            pk=self.tables.key(KnowledgeTest),
            uid=seeded_uuid(draw, at),
            enrolment=enrolment,
            aircraft_type=enrolment.aircraft_type,
            taken_on=at.date(),
            topics=["rules", "aerodrome", "make_and_model"],
            questions=QUESTIONS,
            wrong=draw.randint(0, MAX_WRONG),
            reviewed_on=at.date() if reviewed else None,
            reviewed_by=teacher.person if reviewed else None,
            given_by=teacher.person,
            recorded_at=at,
            recorded_by=teacher.person,
        )
        self.tables.add(test)
        said = {"title": test.title, "taken": test.taken_on, "topics": test.topics, "wrong": test.wrong}
        self.desk.note(teacher.person, at, "test recorded", test, said | {"reviewed": test.reviewed_on})
        self._seal(Seal.Kind.TEST, test, training_payloads.build_written_test_payload(test), at)
        return test

    def review(self, test: KnowledgeTest, at: datetime) -> None:
        """Whoever gave the test goes through the wrong answers later."""
        test.reviewed_on, test.reviewed_by = at.date(), test.given_by
        self.tables.change("reviewed", test, at, str(test.given_by_id))
        self.desk.note(test.given_by, at, "wrong answers reviewed", test, {"reviewed": test.reviewed_on})
        self._seal(Seal.Kind.REVIEW, test, training_payloads.build_test_review_payload(test), at)

    def endorse(
        self,
        enrolment: Enrolment,
        kind: Endorsement.Kind,
        text: str,
        teacher: SimulatedInstructor,
        at: datetime,
        draw: random.Random,
    ) -> Endorsement:
        endorsement = Endorsement(
            pk=self.tables.key(Endorsement),
            uid=seeded_uuid(draw, at),
            enrolment=enrolment,
            kind=kind.value,
            paragraph=endorsements.PARAGRAPHS[kind],
            aircraft_type=enrolment.aircraft_type,
            text=text,
            given_on=at.date(),
            given_by=teacher.person,
            certificate_number=teacher.certificate,
            recorded_at=at,
            recorded_by=teacher.person,
        )
        signature = build_signature(
            seeded_uuid(draw, at),
            teacher.person,
            Signature.Capacity.INSTRUCTOR,
            endorsements.MEANING,
            at,
            teacher,
            endorsement_id=endorsement.pk,
        )
        self.tables.add(endorsement)
        self.tables.add(signature)
        said = {"paragraph": endorsement.paragraph, "on": at.date()}
        self.desk.note(teacher.person, at, "endorsed", endorsement, said)
        record = training_payloads.build_endorsement_payload(endorsement, signature)
        self._seal(Seal.Kind.ENDORSEMENT, endorsement, record, at)
        return endorsement

    def set_aside(self, enrolment: Enrolment, requirement: str, at: datetime, draw: random.Random) -> SetAside:
        decided = SetAside(
            pk=self.tables.key(SetAside),
            uid=seeded_uuid(draw, at),
            enrolment=enrolment,
            requirement=requirement,
            reason=SET_ASIDE_REASON,
            decided_at=at,
            decided_by=self.chief.person,
        )
        self.tables.add(decided)
        said = {"requirement": requirement, "reason": SET_ASIDE_REASON}
        self.desk.note(self.chief.person, at, "requirement set aside", decided, said)
        self._seal(Seal.Kind.SET_ASIDE, decided, training_payloads.build_set_aside_payload(decided), at)
        return decided

    def release(
        self,
        enrolment: Enrolment,
        limits: ReleaseLimits,
        verdict: Verdict,
        teacher: SimulatedInstructor,
        training_on: date,
        at: datetime,
        draw: random.Random,
    ) -> Release:
        """The chief's release for some weeks, on the endorsement of the instructor."""
        release = Release(
            pk=self.tables.key(Release),
            uid=seeded_uuid(draw, at),
            enrolment=enrolment,
            kind=Release.Kind.DAY.value,
            aircraft_type=enrolment.aircraft_type,
            **vars(limits),
            valid_from=at.date(),
            valid_until=min(at.date() + timedelta(days=RELEASE_DAYS), endorsements.latest_release_end(training_on)),
            training_on=training_on,
            endorsed_by=teacher.person,
            reason="Seen by me; what is open is flown next." if verdict.unmet else "",
            verdict=verdict_to_json(verdict),
            decided_at=at,
            decided_by=self.chief.person,
        )
        signature = build_signature(
            seeded_uuid(draw, at),
            self.chief.person,
            Signature.Capacity.CHIEF,
            CHIEF_MEANING,
            at,
            self.chief,
            release_id=release.pk,
        )
        self.tables.add(release)
        self.tables.add(signature)
        self.desk.note(self.chief.person, at, "released for solo", release, {"until": release.valid_until})
        self._seal(Seal.Kind.RELEASE, release, lesson_payload.build_release_payload(release, signature), at)
        return release

    def end(self, enrolment: Enrolment, how: Enrolment.End, at: datetime) -> None:
        enrolment.ended_on, enrolment.end = at.date(), how.value
        self.tables.change("ended", enrolment, at, how.value)
        self.desk.note(self.admin, at, "enrolment ended", enrolment, {"on": at.date(), "end": how.value})

    def certify_end(self, enrolment: Enrolment, lessons: list[Lesson], at: datetime, draw: random.Random) -> None:
        """lessons: every signed version, by number and version."""
        signature = build_signature(
            seeded_uuid(draw, at),
            self.chief.person,
            Signature.Capacity.CHIEF,
            training.END_MEANING,
            at,
            self.chief,
            enrolment_id=enrolment.pk,
        )
        self.tables.add(signature)
        said = {"end": enrolment.end, "on": enrolment.ended_on, "meaning": training.END_MEANING}
        self.desk.note(self.chief.person, at, "end of training certified", enrolment, said)
        self._seal(
            Seal.Kind.END, enrolment, training_payloads.build_end_of_training_payload(enrolment, signature, lessons), at
        )

    def _seal(
        self,
        kind: Seal.Kind,
        subject: KnowledgeTest | Endorsement | SetAside | Release | Enrolment,
        record: dict[str, object],
        at: datetime,
    ) -> None:
        self.tables.add(self.desk.chain.link(kind, subject.uid, record, at))
