"""Build the demo school in an empty database, through the same actions as a person's taps."""

from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from heapq import heapify, heappop, heappush, heapreplace
from itertools import count, islice

from django.contrib.auth.hashers import Argon2PasswordHasher
from django.db import transaction

from grading.actions import corrections, decisions, endorsements, signing, training
from grading.actions.flight_tracks import enter_readings
from grading.actions.load_standards import FIXTURES, load_standards
from grading.actions.release_rules import ReleaseLimits
from grading.evidence import chain, register
from grading.models import Attempt, CriterionSeen, FaultSeen, Measure, Release
from grading.reading import verdict_cache
from grading.reading.flight_tracks import kept_circuits
from grading.reading.grade_lines import GradingContext, target_in_wind
from grading.rules.readiness import Verdict
from grading.simulation.demo.aircraft_papers import add_aircraft_papers
from grading.simulation.demo.catalogue import Catalogue
from grading.simulation.demo.demo_people import LEARNERS, PASSWORD, STAFF, Learner, Staff
from grading.simulation.demo.earlier_training import STUDENT_NUMBER, add_earlier_training
from grading.simulation.demo.flying import ALWAYS_NOTED_GATES, EASE, NOTED_GATES, Pilot, SimulatedAttempt
from grading.simulation.demo.recorded_flights import Recording, record_flight
from lessons import actions as lesson_actions
from lessons.conditions import lesson_wind
from lessons.loading import load_aircraft_type, load_scales, load_syllabus
from lessons.models import Circuit, Enrolment, GateSet, GateTarget, Lesson, Syllabus, Unit
from lessons.rules.scale import Ending, Help, Level, Part, UnitKind
from school import actions as school_actions
from school.models import Aerodrome, Aircraft, AircraftType, Obstacle, Person, Role, Runway, School

VARIATION = -3  # degrees, east positive
# In the open sea, where no aerodrome is; both thresholds on one line, 2,600 ft apart.
RUNWAYS = (
    ("07", 70, Decimal("47.500000"), Decimal("-30.000000")),
    ("25", 250, Decimal("47.502785"), Decimal("-29.990318")),
)
LESSON_GAP_DAYS = (2, 3, 4, 3, 2)
MAX_EXTRA_LESSONS = 5  # with three days between them they stay within the fortnight that recency asks for
MAX_LAST_DAY_LESSONS = 6
RELEASED_FOR_DAYS = {"released": 40, "withdrawn": 40, "expiring": 12}  # by the goal of a learner
# Off blocks, the usual time first; a lesson with its debriefing takes less than the time between two.
OFF_BLOCKS = (time(13, 5), time(14, 40), time(11, 30), time(16, 15), time(9, 55), time(8, 20), time(6, 45))
TAILWHEEL_WORDS = "Trained in tailwheel aeroplanes, proficient in takeoffs, landings, wheel landings and go-arounds."
COMPLEX_WORDS = "Trained on the ground and in flight in complex aeroplanes, proficient in operation and systems."
HIGH_PERFORMANCE_WORDS = "Trained in aeroplanes of more than 200 horsepower, proficient in operation and systems."
ProgressCallback = Callable[[str], None]


class QuickHasher(Argon2PasswordHasher):
    """Hash passwords cheaply, for some four hundred signatures in a row; the first login restores the real cost."""

    time_cost, memory_cost, parallelism = 1, 64, 1


def set_demo_password(person: Person) -> None:
    hasher = QuickHasher()
    person.password = hasher.encode(PASSWORD, hasher.salt())
    person.save(update_fields=["password"])


def utc_datetime(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute), UTC)


def create_school(published_on: date, since: date | None = None) -> Syllabus:
    """Create the school at its aerodrome, with scales, its syllabus and the standards, in force from a day on."""
    home = Aerodrome.objects.create(
        ident="ZZZZ", name="Tern Point", elevation_ft=40, circuit_height_ft=900, variation_deg=VARIATION
    )
    for designator, heading, latitude, longitude in RUNWAYS:
        runway = Runway.objects.create(
            aerodrome=home,
            designator=designator,
            heading_magnetic=heading,
            length_ft=2600,
            aiming_point_ft=400,
            threshold_latitude=latitude,
            threshold_longitude=longitude,
            heading_true=heading + VARIATION,
        )
        if designator == "07":
            Obstacle.objects.create(runway=runway, name="trees", before_ft=900, side_ft=-130, height_ft=55)
    School.objects.create(pk=1, name="Tern Point Flying School", aerodrome=home)
    load_standards(since)
    load_scales(FIXTURES / "scales")
    return load_syllabus(FIXTURES / "syllabus/first-solo.json", published_on=published_on)


def load_aircraft_types(since: date | None = None) -> tuple[AircraftType, AircraftType]:
    """Return the type with a tailwheel and the one without, each with its gates, in force from a day on."""
    return (
        load_aircraft_type(FIXTURES / "aircraft/tailwheel.json", gates_since=since),
        load_aircraft_type(FIXTURES / "aircraft/nosewheel.json", gates_since=since),
    )


def add_staff_member(row: Staff, begun: datetime, today: date) -> Person:
    """Add a member of the staff who may log in; an instructor has a certificate in force until after today."""
    person = school_actions.add_person(
        username=row.username,
        given_name=row.given,
        family_name=row.family,
        reference=row.reference,
        roles=[Role(role) for role in row.roles],
        by=None,
        at=begun,
    )
    set_demo_password(person)
    if row.certificate:
        ends = today + timedelta(days=300)
        school_actions.record_paper(
            person=person,
            kind="instructor_certificate",
            number=row.certificate,
            issued=begun.date() - timedelta(days=200),
            expires=ends if row.has_expiry else None,
            recent_experience_until=None if row.has_expiry else ends,
            by=None,
            at=begun,
        )
    return person


class DemoSchool:
    """The demo as of `today`, the day it is opened; every event lies before it."""

    def __init__(self, today: date, report: ProgressCallback) -> None:
        self.today, self.report = today, report

    # Whole or not at all: load_demo leaves a database with a school as it is, also one with half the demo.
    @transaction.atomic
    def build(self) -> None:
        # Long before the first lesson, so that syllabus, gates and certificates are in force when it is flown.
        self.begun = utc_datetime(self.today - timedelta(days=400), 8)
        self.taken: set[tuple[date, time, object]] = set()
        self.syllabus = create_school(self.begun.date())
        self.catalogue = Catalogue(self.syllabus)
        tailwheel, nosewheel = load_aircraft_types()
        for registration, kind in (
            ("QQ-TPA", tailwheel),
            ("QQ-TPB", tailwheel),
            ("QQ-TPC", nosewheel),
            ("QQ-TPD", nosewheel),
        ):
            Aircraft.objects.create(registration=registration, type=kind)
        self.types = {True: tailwheel, False: nosewheel}
        self.staff = {row.username: add_staff_member(row, self.begun, self.today) for row in STAFF}
        add_aircraft_papers(self.staff["dag"], self.begun.date(), self.today)
        run_in_order(StudentSimulation(self, learner).run() for learner in LEARNERS)
        students = list(Enrolment.objects.active(self.today).for_pages())
        last = chain.head()
        if last is not None:
            register.open_register(last.sealed_at)
        # So that the first look at the board need not derive them.
        verdict_cache.derive_and_store(students, self.today)

    def slot(self, day: date, *who: object) -> time | None:
        """Book the first time of a day at which a student, an instructor and an aircraft are all free."""
        for at in OFF_BLOCKS:
            # One instructor, student or aircraft in two lessons at once would be a finding of the inspection.
            bookings = {(day, at, one) for one in who}
            if not bookings & self.taken:
                self.taken |= bookings
                return at
        return None


def run_in_order(lives: Iterable[Iterator[datetime]]) -> None:
    """Let each life go on when its next moment is the earliest of all: seals lie in the order of their moments."""
    waiting = [(at, place, life) for place, life in enumerate(lives) for at in islice(life, 1)]
    heapify(waiting)
    while waiting:
        now, place, life = waiting[0]
        following = next(life, None)
        if following is None:
            heappop(waiting)
        elif following < now:
            raise RuntimeError(f"Life {place} of the demo goes back from {now} to {following}.")
        else:
            heapreplace(waiting, (following, place, life))


class StudentSimulation:
    """Simulate one student's time at the school, lesson by lesson.

    What runs is a generator: it yields the moment of whatever it seals next, and goes on when it is time.
    """

    def __init__(self, school: DemoSchool, learner: Learner) -> None:
        self.school, self.learner = school, learner
        self.pilot = Pilot(learner)
        self.admin = school.staff["dag"]
        self.catalogue = school.catalogue
        self.later: list[tuple[datetime, int, Callable[[], object]]] = []
        self.numbers = count()
        self.correction_planned = False

    def run(self) -> Iterator[datetime]:
        self.school.report(f"{self.learner.given} {self.learner.family}")
        plan = self._plan_units()
        # With all extra lessons: whether flown or not, none may lie before the enrolment.
        days = self._lesson_days(len(plan) + MAX_EXTRA_LESSONS)
        first = days[0] if plan else self.school.today - timedelta(days=self.learner.days_ago + 1)
        enrolled = first - timedelta(days=3)
        yield from self._until(utc_datetime(enrolled, 9))
        self._enrol(enrolled)
        if self.learner.reference == STUDENT_NUMBER:
            yield from self._until(utc_datetime(enrolled + timedelta(days=1), 10))
            add_earlier_training(self.school.today, self.school.staff)
        days = self._lesson_days(len(plan) + (MAX_EXTRA_LESSONS if self.learner.goal else 0))
        circuits = [day for unit, day in zip(plan, days, strict=False) if unit.flies_circuits]
        self.recorded_days = circuits[-self.learner.tracks :] if self.learner.tracks else []
        for unit, day in zip(plan, days, strict=False):
            self.day = day
            yield from self._fly_lesson(unit)
            if self.learner.corrected and not self.correction_planned:
                self._plan_correction()
        if self.learner.goal:
            yield from self._fly_until_goal(days[len(plan) :])
        if self.learner.unsigned:
            yield from self._fly_lesson(self.catalogue.unit(14), day=self.school.today, signed=False)
        if self.learner.ended:
            yield from self._end_training()
        yield from self._act_until(datetime.max.replace(tzinfo=UTC))

    def _until(self, at: datetime) -> Iterator[datetime]:
        """Wait for a moment; what was put off to an earlier one is done before it."""
        yield from self._act_until(at)
        yield at

    def _act_until(self, at: datetime) -> Iterator[datetime]:
        while self.later and self.later[0][0] <= at:
            moment, _, act = heappop(self.later)
            yield moment
            act()

    def _put_off(self, at: datetime, act: Callable[[], object]) -> None:
        # The number keeps those of one moment in their order, and acts are never compared.
        heappush(self.later, (at, next(self.numbers), act))

    def _plan_units(self) -> list[Unit]:
        """Return the units flown, each as often as this student needs it; the stage check and solo come later."""
        plan = []
        for unit in self.catalogue.units:
            if unit.number > min(self.learner.until_unit, 15):
                break
            again = self.learner.rounds if unit.number in (10, 11, 14) else 0
            plan += [unit] * (1 + again)
        if self.learner.until_unit >= 16 and not self.learner.goal:
            plan += [self.catalogue.unit(14), self.catalogue.unit(14)]
        return plan

    def _lesson_days(self, count: int) -> list[date]:
        """Return the days of the lessons, counted backwards from the last one."""
        day = self.school.today - timedelta(days=self.learner.days_ago)
        days = []
        for place in range(count):
            days.append(day)
            # Shifted by the length of a name, so that students fly on different days and every build is the same.
            day -= timedelta(days=LESSON_GAP_DAYS[(place + len(self.learner.given)) % len(LESSON_GAP_DAYS)])
        return days[::-1]

    def _enrol(self, day: date) -> None:
        learner, at = self.learner, utc_datetime(day, 9)
        born = date(self.school.today.year - learner.age, 1 + len(learner.given) % 10, 11)
        self.student = school_actions.add_person(
            username=learner.username,
            given_name=learner.given,
            family_name=learner.family,
            reference=learner.reference,
            born=born,
            roles=[Role.STUDENT],
            by=self.admin,
            at=at,
        )
        set_demo_password(self.student)
        self.instructor = self.school.staff[learner.instructor]
        self.enrolment = lesson_actions.enrol(
            student=self.student,
            syllabus=self.school.syllabus,
            aircraft_type=self.school.types[learner.tailwheel],
            instructor=self.instructor,
            on=day,
            by=self.admin,
            at=at,
        )
        if learner.until_unit == 0:
            return
        examined = self.school.today - timedelta(days=round(30.44 * learner.medical_months_ago))
        papers = (("student_certificate", "", day), ("english", "", day), ("medical", "3", examined))
        for kind, class_, issued in papers:
            number = f"{kind[:2].upper()}-{learner.reference[-4:]}"
            school_actions.record_paper(
                person=self.student, kind=kind, number=number, medical_class=class_, issued=issued, by=self.admin, at=at
            )

    def _fly_lesson(
        self, unit: Unit, day: date | None = None, signed: bool = True, instructor: Person | None = None
    ) -> Iterator[datetime]:
        day = day or self.day
        teacher = instructor or self._instructor_on(day)
        lesson = self._begin_lesson(unit, day, teacher)
        if unit.kind == UnitKind.GROUND:
            lesson.ground_minutes = 60
            self._fly_single_manoeuvres(lesson, unit)
            if unit.number == 15:
                yield from self._knowledge_test(day, teacher)
        else:
            self._fill_times(lesson, day)
            if unit.flies_circuits:
                self.pilot.slumped = self.learner.slump and (self.school.today - day).days < 9
                targets = self._targets(lesson)
                for number in range(1, 4 if not signed else self.pilot.random.randint(5, 7)):
                    self._circuit(lesson, unit, number, targets)
            self._fly_single_manoeuvres(lesson, unit)
        lesson.save()
        if signed:
            yield from self._sign(lesson, teacher, day)
        self._record_flight(lesson, teacher, day, signed=signed)

    def _record_flight(self, lesson: Lesson, teacher: Person, day: date, *, signed: bool) -> None:
        """Keep the flight track of a lesson: of one that is signed beside it, of one that is not with some numbers."""
        at = self.off_blocks + timedelta(minutes=95 if signed else 75)
        if signed and day in self.recorded_days:
            odd = Recording(brushed=day == self.recorded_days[-1])
            self._put_off(at, lambda: record_flight(lesson, odd, teacher, at))
        elif not signed and self.learner.tracks:
            track = record_flight(lesson, Recording(untapped=True), teacher, at)
            taken = next(row for row in kept_circuits(track) if row.number is not None)
            enter_readings(lesson=lesson, track=track, place=taken.place, by=teacher, at=at)

    def _instructor_on(self, day: date) -> Person:
        """Return the instructor of a day; a reassigned student flies with the new one in the last weeks."""
        if not self.learner.reassigned_to or (self.school.today - day).days > 16:
            return self.instructor
        new = self.school.staff[self.learner.reassigned_to]
        if self.enrolment.instructor_id != new.pk:
            self.enrolment = lesson_actions.change_instructor(
                enrolment=self.enrolment, instructor=new, by=self.admin, at=utc_datetime(day, 8)
            )
        return new

    def _begin_lesson(self, unit: Unit, day: date, teacher: Person) -> Lesson:
        flown = unit.kind != UnitKind.GROUND
        aircraft = list(Aircraft.objects.filter(type=self.enrolment.aircraft_type).order_by("registration"))
        runway = Runway.objects.get(designator=self.pilot.random.choice(("07", "25")))
        if flown and self.pilot.random.randrange(2):
            aircraft.reverse()
        off, taken = self._slot(day, teacher, aircraft if flown else [])
        self.off_blocks = datetime.combine(day, off, UTC)
        return lesson_actions.begin_lesson(
            enrolment=self.enrolment,
            unit=unit,
            on=day,
            instructor=teacher,
            by=teacher,
            at=self.off_blocks - timedelta(minutes=5),
            aircraft=taken,
            runway=runway if flown else None,
        )

    def _slot(self, day: date, teacher: Person, aircraft: list[Aircraft]) -> tuple[time, Aircraft | None]:
        """Choose the time and the aircraft of the type, preferring the one that was chosen first."""
        for one in (*aircraft,) or (None,):
            taken = (self.student.pk, teacher.pk, one.registration if one else None)
            if at := self.school.slot(day, *(who for who in taken if who is not None)):
                return at, one
        raise RuntimeError(f"The demo's {day} is too full for {self.student}: give it more times.")

    def _fill_times(self, lesson: Lesson, day: date) -> None:
        draw = self.pilot.random
        minutes = draw.randint(48, 70)
        if self.learner.without_block_times != lesson.unit.number:
            lesson.off_blocks = self.off_blocks
            lesson.on_blocks = lesson.off_blocks + timedelta(minutes=minutes)
        if lesson.unit.kind == UnitKind.SOLO:
            lesson.solo_minutes = minutes
        else:
            lesson.dual_minutes = minutes
        assert lesson.runway is not None
        # A student is sent alone on a calm day, well inside the limits of the release.
        side = draw.randint(-50, 50) // (3 if lesson.unit.kind == UnitKind.SOLO else 1)
        self._wind(lesson, (lesson.runway.heading_magnetic + side) % 360 or 360)
        lesson.next_time = draw.choice(
            ("Hold the speed from the turn to final.", "Round out later, then wait.", "Say the checks aloud.", "")
        )

    def _wind(self, lesson: Lesson, direction: int) -> None:
        """Enter the wind on some days, and paste the weather report on others."""
        draw = self.pilot.random
        speed, gust = draw.randint(3, 12), draw.choice((0, 0, 0, 5, 8))
        if lesson.unit.kind == UnitKind.SOLO:
            speed, gust = min(speed, 8), 0
        if draw.random() < 0.4:
            # Reports name true north, entries here magnetic north.
            true = (direction + VARIATION - 1) % 360 + 1
            blown = f"{true:03d}{speed:02d}" + (f"G{speed + gust:02d}" if gust else "") + "KT"
            observed = self.off_blocks - timedelta(minutes=15)
            lesson.weather_report = f"ZZZZ {observed:%d%H%M}Z {blown} 9999 FEW035 14/08 Q1018"
        else:
            lesson.wind_direction, lesson.wind_speed_kt = direction, speed
            lesson.wind_gust_kt = speed + gust if gust else None

    def _circuit(self, lesson: Lesson, unit: Unit, number: int, targets: list[GateTarget]) -> None:
        ending = unit.ending if unit.kind != UnitKind.DUAL else self.pilot.ending(unit.ending)
        circuit = Circuit.objects.create(lesson=lesson, number=number, ending=ending, closed=True)
        last = Part.GO_AROUND if ending == Ending.GO_AROUND else Part.LANDING
        for part in (Part.TAKEOFF, Part.DOWNWIND, Part.APPROACH, last):
            seen = self.pilot.attempt(EASE[part])
            attempt = self._attempt(lesson, part.value, seen, circuit, part)
            if last is Part.LANDING and seen.help is not Help.TOOK_CONTROL:
                self._measures(
                    lesson, attempt, [row for row in targets if row.gate.code in NOTED_GATES[part]], seen.level
                )

    def _attempt(
        self,
        lesson: Lesson,
        code: str,
        seen: SimulatedAttempt,
        circuit: Circuit | None = None,
        part: Part | None = None,
    ) -> Attempt:
        attempt = Attempt.objects.create(
            lesson=lesson,
            circuit=circuit,
            part=part.value if part else "",
            manoeuvre=self.catalogue.manoeuvres[code],
            level=seen.level,
            help=seen.help,
        )
        kind = self.enrolment.aircraft_type
        fault = self.pilot.fault(seen, self.catalogue.faults_on(code, kind))
        if fault is not None:
            FaultSeen.objects.create(attempt=attempt, fault=fault)
        criteria = self.catalogue.criteria_counting_in(code, lesson.unit.number, kind)
        watched = self.pilot.watched(seen.level, criteria)
        if watched is not None:
            CriterionSeen.objects.create(attempt=attempt, criterion=watched[0], done=watched[1])
        return attempt

    def _targets(self, lesson: Lesson) -> list[GateTarget]:
        """Return targets of the gates in force that day for the type flown."""
        assert lesson.aircraft is not None
        gates = GateSet.objects.in_force(lesson.on).filter(aircraft_type=lesson.aircraft.type).first()
        return list(GateTarget.objects.filter(gate__gate_set=gates).select_related("gate"))

    def _measures(self, lesson: Lesson, attempt: Attempt, targets: list[GateTarget], level: Level) -> None:
        grading_context = GradingContext(wind=lesson_wind(lesson))
        measured = []
        for row in targets:
            if row.gate.code not in ALWAYS_NOTED_GATES and self.pilot.random.random() < 0.7:
                continue
            value = self.pilot.noted(target_in_wind(row, grading_context), level)
            measured.append(Measure(attempt=attempt, target=row, value=value, unit=row.unit))
        Measure.objects.bulk_create(measured)

    def _fly_single_manoeuvres(self, lesson: Lesson, unit: Unit) -> None:
        circuit_codes = {part.value for part in Part} if unit.flies_circuits else set()
        for graded in self.catalogue.graded_manoeuvres[unit.pk]:
            for_type = not graded.manoeuvre.tailwheel_only or self.learner.tailwheel
            if graded.manoeuvre.code not in circuit_codes and for_type:
                self._attempt(lesson, graded.manoeuvre.code, self.pilot.alone(Level(graded.expected)))

    def _knowledge_test(self, day: date, teacher: Person) -> Iterator[datetime]:
        at = self.off_blocks + timedelta(minutes=70)
        yield from self._until(at)
        training.record_written_test(
            enrolment=self.enrolment,
            aircraft_type=self.enrolment.aircraft_type,
            taken_on=day,
            topics=["rules", "aerodrome", "make_and_model"],
            questions=50,
            wrong=self.pilot.random.randint(1, 6),
            reviewed_on=day,
            given_by=teacher,
            by=teacher,
            at=at,
        )

    def _sign(self, lesson: Lesson, teacher: Person, day: date) -> Iterator[datetime]:
        signed = self.off_blocks + timedelta(minutes=85)
        if self.learner.signed_late == lesson.unit.number:
            signed += timedelta(days=2)
            self._put_off(signed, lambda: signing.sign_lesson(lesson=lesson, secret=PASSWORD, by=teacher, at=signed))
        else:
            yield from self._until(signed)
            signing.sign_lesson(lesson=lesson, secret=PASSWORD, by=teacher, at=signed)
        if (self.school.today - day).days > self.learner.answers_after or self.learner.goal:
            # A student never signs before the instructor.
            self._put_off_answer(lesson, max(utc_datetime(day, 18), signed + timedelta(minutes=10)))

    def _put_off_answer(self, lesson: Lesson, at: datetime) -> None:
        self._put_off(at, lambda: signing.acknowledge_lesson(lesson=lesson, secret=PASSWORD, by=self.student, at=at))

    def _plan_correction(self) -> None:
        """Put off the correction of the third lesson with a takeoff to the day after it."""
        flown = Lesson.objects.filter(enrolment=self.enrolment, takeoffs__gt=0).signed().for_pages().in_order()
        if len(flown) == 3:
            lesson, self.correction_planned = flown[2], True
            day = lesson.on + timedelta(days=1)
            self._put_off(utc_datetime(day, 11), lambda: self._correct_lesson(lesson, day))

    def _correct_lesson(self, lesson: Lesson, day: date) -> None:
        """Correct a slip in an earlier lesson: both versions remain, and the second counts."""
        reason = "The remark of another lesson was written here."
        version = corrections.begin_correction(
            lesson=lesson, reason=reason, by=lesson.instructor, at=utc_datetime(day, 10)
        )
        version.next_time = "Keep the wings level over the threshold."
        version.save(update_fields=["next_time"])
        signing.sign_lesson(lesson=version, secret=PASSWORD, by=lesson.instructor, at=utc_datetime(day, 11))
        self._put_off_answer(version, utc_datetime(day, 18))

    def _end_training(self) -> Iterator[datetime]:
        chief, later = self.school.staff["ruth"], self.day + timedelta(days=6)
        yield from self._until(utc_datetime(later, 15))
        training.end_training(
            enrolment=self.enrolment, on=later, end=self.learner.ended, by=self.admin, at=utc_datetime(later, 10)
        )
        training.certify_end(enrolment=self.enrolment, secret=PASSWORD, by=chief, at=utc_datetime(later, 15))

    def _fly_until_goal(self, days: list[date]) -> Iterator[datetime]:
        """Fly circuits to standard and the checks before solo, until every requirement is met."""
        self.day = days[0]
        yield from self._until(utc_datetime(self.day, 7))
        yield from self._endorse_for_type()
        released = self.learner.goal in RELEASED_FOR_DAYS
        # Seeded flying may take longer than planned: the last day gets more lessons until the verdict is ready.
        for day in [*days[: -2 if released else None], *[days[-3 if released else -1]] * MAX_LAST_DAY_LESSONS]:
            self.day = day
            if self._verdict(day).ready:
                continue
            unmet = {outcome.key for outcome in self._verdict(day).unmet}
            second = unmet <= {"second_instructor", "recent_circuit"}
            other = next(
                p
                for name, p in self.school.staff.items()
                if p.is_instructor and p != self.instructor and name != "ruth"
            )
            yield from self._fly_lesson(self.catalogue.unit(16 if second else 14), instructor=other if second else None)
        if self.learner.goal == "ready":
            yield from self._endorse_for_solo(self.day)
        if released:
            yield from self._release(days[-2])
            yield from self._fly_lesson(self.catalogue.unit(17), day=days[-1])
        if self.learner.goal == "withdrawn":
            yield from self._withdraw_release(utc_datetime(days[-1], 18))

    def _endorse_for_type(self) -> Iterator[datetime]:
        yield from self._until(utc_datetime(self.day, 7))
        kind = self.enrolment.aircraft_type
        for applies, act, text in (
            (kind.tailwheel, endorsements.endorse_for_tailwheel, TAILWHEEL_WORDS),
            (kind.is_complex, endorsements.endorse_for_complex, COMPLEX_WORDS),
            (kind.is_high_performance, endorsements.endorse_for_high_performance, HIGH_PERFORMANCE_WORDS),
        ):
            if applies:
                act(
                    enrolment=self.enrolment,
                    text=text,
                    on=self.day,
                    secret=PASSWORD,
                    by=self.instructor,
                    at=utc_datetime(self.day, 7),
                )

    def _verdict(self, day: date) -> Verdict:
        return decisions.derive_verdict(self.enrolment, day)

    def _release(self, day: date) -> Iterator[datetime]:
        home = Aerodrome.objects.get(ident="ZZZZ")
        limits = ReleaseLimits(home, "07, 25", 12, 5, Decimal(5), 2000)
        unmet = self._verdict(day).unmet
        yield from self._endorse_for_solo(day)
        yield from self._until(utc_datetime(day, 18, 30))
        decisions.sign_release(
            enrolment=self.enrolment,
            limits=limits,
            valid_from=day,
            valid_until=day + timedelta(days=RELEASED_FOR_DAYS[self.learner.goal]),
            endorsed_by=self.instructor,
            reason="Seen by me on the day; the open point is flown next." if unmet else "",
            secret=PASSWORD,
            by=self.school.staff["ruth"],
            at=utc_datetime(day, 18, 30),
        )

    def _endorse_for_solo(self, day: date) -> Iterator[datetime]:
        words = "I gave this student the training of 14 CFR 61.87 in this make and model and found them safe alone."
        yield from self._until(utc_datetime(day, 18))
        endorsements.endorse_for_solo(
            enrolment=self.enrolment, text=words, on=day, secret=PASSWORD, by=self.instructor, at=utc_datetime(day, 18)
        )

    def _withdraw_release(self, at: datetime) -> Iterator[datetime]:
        """Withdraw the release for what happened in the solo of the day; the student has not confirmed it."""
        yield from self._until(at)
        decisions.withdraw_release(
            release=Release.objects.get(enrolment=self.enrolment),
            reason="Third solo circuit: bounced twice and did not go around. Dual on bounce recovery first.",
            by=self.school.staff["ruth"],
            at=at,
        )
