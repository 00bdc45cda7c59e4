"""Builds the academy: every student's life side by side, moment after moment, as the chain of seals wants it."""

import heapq
import itertools
import random
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import connection, transaction

from grading.actions.release_rules import Limits
from grading.actions.signing import certificate_words
from grading.reading import verdict_cache
from grading.reading.facts import standard_in_force
from grading.rules.readiness import assess
from grading.simulation.academy import people
from grading.simulation.academy.desk import Desk
from grading.simulation.academy.flown import Drawer
from grading.simulation.academy.lives import Event, Life
from grading.simulation.academy.office import Office
from grading.simulation.academy.people import Teacher
from grading.simulation.academy.tables import Tables
from grading.simulation.academy.weather import Weather
from grading.simulation.demo.catalogue import Catalogue
from grading.simulation.demo.school import aircraft_types, engage, found_school, moment
from lessons.models import Enrolment, GateTarget
from school.models import Aircraft, Paper, Person, Runway, School

DAYS_A_YEAR = 365
STUDENTS_OF_AN_AIRCRAFT = 20
SPREAD_DAYS = 300
FRIDAY = 4
BEING_WRITTEN = 25  # one of so many students has a lesson of today that is not signed
VERDICTS_AT_ONCE = 200
TAPS_AT_ONCE = 10_000
Report = Callable[[str, int], None]


class Academy:
    """students: in training at the end; years: back from today; the same seed makes the same academy.

    report(words, rows written so far) is called now and then. Everything is written in one transaction: an
    academy is there whole or not at all.
    """

    def __init__(self, students: int, years: int, seed: int, today: date, report: Report) -> None:
        self.students, self.seed, self.today, self.report = students, seed, today, report
        self.begins = today - timedelta(days=DAYS_A_YEAR * years)
        self.tables, self.weather = Tables(), Weather(seed)
        self.draw = random.Random(f"{seed} academy")  # noqa: S311 - invented people, no secret
        self.serials = itertools.count()
        self.numbers = itertools.count(1)
        self.active: list[Life] = []
        self.candidates: list[Life] = []
        self.ended: list[Life] = []

    @transaction.atomic
    def build(self) -> None:
        with connection.cursor() as cursor:
            # The planner knows nothing of rows that are not committed: it would read whole tables for a few of them.
            cursor.execute("SET LOCAL enable_seqscan = off")
        self._found()
        with self.tables:
            self._live()
        self._verdicts()

    def _live(self) -> None:
        """Every moment up to today, each student's in turn."""
        last = moment(self.today, 23, 59)
        for at, _, happen in heapq.merge(self._fridays(), *(self._place() for _ in range(self.students))):
            if at > last:
                break
            happen()
            if self.tables.gathered >= TAPS_AT_ONCE:
                self.tables.flush()
        self._leave_unsigned()
        self.tables.flush()
        self.tables.wait()

    def event(self, at: datetime, happen: Callable[[], None]) -> Event:
        """The serial keeps what happens at one moment in order."""
        return at, next(self.serials), happen

    def other_than(self, teacher: Teacher, draw: random.Random) -> Teacher:
        return draw.choice([other for other in self.teachers if other is not teacher])

    def _found(self) -> None:
        begun = moment(self.begins - timedelta(days=30), 8)
        since = begun.date()
        syllabus = found_school(since, since)
        self.types = dict(zip((True, False), aircraft_types(since), strict=True))
        self.catalogue = Catalogue(syllabus)
        school = School.objects.select_related("aerodrome").get()
        # The one there is from the first day on; asking on a Friday would wait for the batch that is being written.
        self.home, self.standard = school.aerodrome, standard_in_force(school, since)
        self.runways = {row.heading_magnetic: row for row in Runway.objects.select_related("aerodrome")}
        self.fleet = {tailwheel: self._fleet(tailwheel) for tailwheel in (True, False)}
        staff = {row.username: engage(row, begun, self.today) for row in people.staff(self.students, self.draw)}
        self.teachers = [self._teacher(person) for name, person in staff.items() if name != "admin"]
        chief = self.teachers.pop(0)
        targets = GateTarget.objects.select_related("gate__gate_set").order_by("gate__order", "pk")
        self.drawer = Drawer(self.catalogue, self.tables, targets, syllabus.scale.scale)
        self.desk = Desk(self.tables, self.drawer)
        self.office = Office(self.desk, self.catalogue, staff["admin"], chief)

    def _fleet(self, tailwheel: bool) -> list[Aircraft]:
        count = 2 + self.students // STUDENTS_OF_AN_AIRCRAFT
        letter = "T" if tailwheel else "N"
        return [
            Aircraft.objects.create(registration=f"QQ-{letter}{number:03d}", type=self.types[tailwheel])
            for number in range(1, count + 1)
        ]

    def _teacher(self, person: Person) -> Teacher:
        paper = Paper.objects.get(person=person)
        severity, diligence = self.draw.gauss(0, 0.05), self.draw.choice((0.05, 0.15, 0.3, 0.6))
        return Teacher(person, paper.number, certificate_words(paper), severity, diligence)

    def _place(self) -> Iterator[Event]:
        """A place at the academy, taken by one student after the other."""
        draw = random.Random(f"{self.seed} place {next(self.serials)}")  # noqa: S311 - invented people, no secret
        day, hour = self.begins + timedelta(days=draw.randint(0, SPREAD_DAYS)), 9
        while True:
            life = Life(self, people.learner(next(self.numbers), draw), draw.choice(self.teachers), day, hour)
            yield from life.events()
            day = min(life.ended + timedelta(days=draw.randint(2, 12)), max(self.today, life.ended))
            hour = 9 if day > life.ended else 23

    def _fridays(self) -> Iterator[Event]:
        """The chief certifies what ended and decides on those who were checked."""
        day = self.begins
        while day <= self.today:
            if day.weekday() == FRIDAY:
                yield self.event(moment(day, 21), lambda on=day: self._friday(on))  # type: ignore[misc]
            day += timedelta(days=1)

    def _friday(self, on: date) -> None:
        ended, self.ended = self.ended, []
        for second, life in enumerate(ended):
            self.office.certify_end(life.enrolment, life.signed, moment(on, 20) + timedelta(seconds=second), life.draw)
        self.report(f"{on:%d %B %Y}, {len(self.active)} students", self.tables.written)
        candidates, self.candidates = [life for life in self.candidates if life in self.active], []
        if candidates:
            self._decide(candidates, on)

    def _decide(self, candidates: list[Life], on: date) -> None:
        """Each whom only the school's own requirements stop is endorsed and released, with a reason where one is open.

        A few fly on for a week instead, the one that is open set aside.
        """
        limits = Limits(self.home, "07, 25", 12, 5, Decimal("5.0"), 2000)
        for second, life in enumerate(candidates):
            verdict = assess(life.known.facts(life.enrolment), self.standard, on)
            if all(outcome.kind != "legal" for outcome in verdict.unmet):
                life.decide(verdict, limits, moment(on, 21) + timedelta(seconds=second))

    def _leave_unsigned(self) -> None:
        for life in self.active[::BEING_WRITTEN]:
            if life.begins < self.today:
                slot = life.slot_at(moment(self.today, 7), life.teacher, self.weather.on(self.today))
                self.desk.begin(life.fly_unsigned(self.catalogue.unit(8), slot), life.draw)

    def _verdicts(self) -> None:
        rows = list(Enrolment.objects.active(self.today).for_pages().order_by("pk"))
        for batch in range(0, len(rows), VERDICTS_AT_ONCE):
            part = rows[batch : batch + VERDICTS_AT_ONCE]
            verdict_cache.store(part, self.today)
            self.tables.written += len(part)
            self.report(f"{batch + len(part)} of {len(rows)} verdicts", self.tables.written)
