"""Builds the academy: every student's life side by side, moment after moment, as the chain of seals wants it."""

import heapq
import itertools
import random
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from decimal import Decimal

from django.db import connection, transaction

from grading.actions.release_rules import ReleaseLimits
from grading.actions.signing import certificate_words
from grading.reading import verdict_cache
from grading.reading.facts import standard_in_force
from grading.rules.readiness import assess
from grading.simulation.demo.catalogue import Catalogue
from grading.simulation.demo.demo_school import add_staff_member, create_school, load_aircraft_types, utc_datetime
from lessons.models import Enrolment, GateTarget
from school.models import Aircraft, Paper, Person, Runway, School
from tests.benchmarks.academy import generated_people
from tests.benchmarks.academy.campus import Campus, SimulatedEvent
from tests.benchmarks.academy.desk import Desk
from tests.benchmarks.academy.generated_people import SimulatedInstructor
from tests.benchmarks.academy.lesson_generator import LessonGenerator
from tests.benchmarks.academy.office import Office
from tests.benchmarks.academy.student_life import StudentLife

DAYS_PER_YEAR = 365
STUDENTS_PER_AIRCRAFT = 20
START_SPREAD_DAYS = 300
FRIDAY = 4
MOST_OPEN = 2
STUDENTS_PER_UNSIGNED_LESSON = 25  # one of so many students has a lesson of today that is not signed
VERDICT_BATCH_SIZE = 200
TAP_BATCH_SIZE = 10_000
ProgressCallback = Callable[[str, int], None]


class Academy(Campus[StudentLife]):
    """students: in training at the end; years: back from today; the same seed makes the same academy.

    report(words, rows written so far) is called now and then. Everything is written in one transaction: an
    academy is there whole or not at all.
    """

    def __init__(self, students: int, years: int, seed: int, today: date, report: ProgressCallback) -> None:
        super().__init__(seed, today)
        self.students, self.report = students, report
        self.begins = today - timedelta(days=DAYS_PER_YEAR * years)
        self.numbers = itertools.count(1)

    @transaction.atomic
    def build(self) -> None:
        with connection.cursor() as cursor:
            # The planner knows nothing of rows that are not committed: it would read whole tables for a few of them.
            cursor.execute("SET LOCAL enable_seqscan = off")
        self._create_academy()
        with self.tables:
            self._run_events()
        self._store_verdicts()

    def _run_events(self) -> None:
        """Every moment up to today, each student's in turn."""
        last = utc_datetime(self.today, 23, 59)
        for at, _, happen in heapq.merge(
            self._friday_events(), *(self._student_place_events() for _ in range(self.students))
        ):
            if at > last:
                break
            happen()
            if self.tables.gathered >= TAP_BATCH_SIZE:
                self.tables.flush()
        self._leave_unsigned()
        self.tables.flush()
        self.tables.wait()

    def _create_academy(self) -> None:
        begun = utc_datetime(self.begins - timedelta(days=30), 8)
        since = begun.date()
        syllabus = create_school(since, since)
        self.types = dict(zip((True, False), load_aircraft_types(since), strict=True))
        self.catalogue = Catalogue(syllabus)
        school = School.objects.select_related("aerodrome").get()
        # The one there is from the first day on; asking on a Friday would wait for the batch that is being written.
        self.home, self.standard = school.aerodrome, standard_in_force(school, since)
        self.runways = {row.heading_magnetic: row for row in Runway.objects.select_related("aerodrome")}
        self.fleet = {tailwheel: self._create_fleet(tailwheel) for tailwheel in (True, False)}
        staff = {
            row.username: add_staff_member(row, begun, self.today)
            for row in generated_people.draw_staff(self.students, self.draw)
        }
        self.teachers = [self._instructor_of(person) for name, person in staff.items() if name != "admin"]
        chief = self.teachers.pop(0)
        targets = GateTarget.objects.select_related("gate__gate_set").order_by("gate__order", "pk")
        self.lesson_generator = LessonGenerator(self.catalogue, self.tables, targets, syllabus.scale.scale)
        self.desk = Desk(self.tables, self.lesson_generator)
        self.office = Office(self.desk, self.catalogue, staff["admin"], chief)

    def _create_fleet(self, tailwheel: bool) -> list[Aircraft]:
        count = 2 + self.students // STUDENTS_PER_AIRCRAFT
        letter = "T" if tailwheel else "N"
        return [
            Aircraft.objects.create(registration=f"QQ-{letter}{number:03d}", type=self.types[tailwheel])
            for number in range(1, count + 1)
        ]

    def _instructor_of(self, person: Person) -> SimulatedInstructor:
        paper = Paper.objects.get(person=person)
        severity, diligence = self.draw.gauss(0, 0.05), self.draw.choice((0.05, 0.15, 0.3, 0.6))
        return SimulatedInstructor(person, paper.number, certificate_words(paper), severity, diligence)

    def _student_place_events(self) -> Iterator[SimulatedEvent]:
        """A place at the academy, taken by one student after the other."""
        draw = random.Random(f"{self.seed} place {next(self.serials)}")
        day, hour = self.begins + timedelta(days=draw.randint(0, START_SPREAD_DAYS)), 9
        while True:
            life = StudentLife(
                self, generated_people.draw_learner(next(self.numbers), draw), draw.choice(self.teachers), day, hour
            )
            yield from life.events()
            day = min(life.ended + timedelta(days=draw.randint(2, 12)), max(self.today, life.ended))
            hour = 9 if day > life.ended else 23

    def _friday_events(self) -> Iterator[SimulatedEvent]:
        """The chief certifies what ended and decides on those who were checked."""
        day = self.begins
        while day <= self.today:
            if day.weekday() == FRIDAY:
                yield self.event(utc_datetime(day, 21), lambda on=day: self._decide_on_friday(on))  # type: ignore[misc]
            day += timedelta(days=1)

    def _decide_on_friday(self, on: date) -> None:
        ended, self.ended = self.ended, []
        for second, life in enumerate(ended):
            self.office.certify_end(
                life.enrolment, life.signed, utc_datetime(on, 20) + timedelta(seconds=second), life.draw
            )
        self.report(f"{on:%d %B %Y}, {len(self.active)} students", self.tables.written)
        candidates, self.candidates = [life for life in self.candidates if life in self.active], []
        if candidates:
            self._decide(candidates, on)

    def _decide(self, candidates: list[StudentLife], on: date) -> None:
        """Each whom no more than two of the school's own requirements stop is endorsed and released, with a reason.

        A few fly on for a week instead, the one that is open set aside.
        """
        limits = ReleaseLimits(self.home, "07, 25", 12, 5, Decimal("5.0"), 2000)
        for second, life in enumerate(candidates):
            verdict = assess(life.known.facts(life.enrolment), self.standard, on)
            if len(verdict.unmet) <= MOST_OPEN and all(outcome.kind != "legal" for outcome in verdict.unmet):
                life.decide(verdict, limits, utc_datetime(on, 21) + timedelta(seconds=second))

    def _leave_unsigned(self) -> None:
        for life in self.active[::STUDENTS_PER_UNSIGNED_LESSON]:
            if life.begins < self.today:
                slot = life.slot_at(utc_datetime(self.today, 7), life.teacher, self.weather.on(self.today))
                self.desk.begin(life.fly_unsigned(self.catalogue.unit(8), slot), life.draw)

    def _store_verdicts(self) -> None:
        rows = list(Enrolment.objects.active(self.today).for_pages().order_by("pk"))
        for batch in range(0, len(rows), VERDICT_BATCH_SIZE):
            part = rows[batch : batch + VERDICT_BATCH_SIZE]
            verdict_cache.derive_and_store(part, self.today)
            self.tables.written += len(part)
            self.report(f"{batch + len(part)} of {len(rows)} verdicts", self.tables.written)
