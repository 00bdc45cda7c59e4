"""The life of one student at the academy, as moments with what happens at each: enrolment, lessons, solo, end."""

from collections import deque
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from grading.actions.release_rules import ReleaseLimits
from grading.models import Release
from grading.rules.readiness import Verdict
from grading.simulation.demo.demo_people import Learner
from grading.simulation.demo.demo_school import utc_datetime
from grading.simulation.demo.flying import Pilot
from lessons.models import Endorsement, Enrolment, KnowledgeTest, Lesson, Unit
from lessons.rules.scale import Help, Level, UnitKind
from tests.benchmarks.academy.campus import Campus, SimulatedEvent
from tests.benchmarks.academy.generated_people import LESSONS_PER_DAY, SimulatedInstructor
from tests.benchmarks.academy.known_facts import KnownFacts
from tests.benchmarks.academy.lesson_generator import LessonSlot, SimulatedLesson, SimulatedTry
from tests.benchmarks.academy.weather import RUNWAYS, WeatherDay

LESSON_GAP_DAYS = (5, 6, 7, 8, 9, 10, 12, 14, 16)
LESSON_GAP_DAYS_NEAR_SOLO = (3, 4, 5, 6)
MAX_ROUNDS, MAX_CHECKS = 10, 4
CIRCUITS_BY_UNIT = {16: 4, 17: 3, 18: 5}  # fewer in a check and alone than in a lesson
# When an instructor thinks of the stage check: near to what the standard asks of each part.
CIRCUITS_LOOKED_AT, GOOD_CIRCUITS = 10, 8
OTHER_TYPE_SHARE = 0.02  # of the dual flights before the solo stage: the student’s own type was not there
SOLO_STAGE_BEGINS = 14
MAX_WEEKS_WAITING = 8
REVIEWED_IN_A_LESSON_SHARE = 0.4
SUNDAY = 6
SOLO_ENDORSEMENT_TEXT = (
    "I gave this student the training of 14 CFR 61.87 in this make and model and found them safe alone."
)
SYSTEMS_ENDORSEMENT_TEXT = "Trained on the ground and in flight, proficient in operation and systems."
TAILWHEEL_ENDORSEMENT_TEXT = (
    "Trained in tailwheel aeroplanes, proficient in takeoffs, landings, wheel landings and go-arounds."
)


class StudentLife:
    """Draws from its own seed alone, so that a student's life does not depend on how many others there are."""

    def __init__(
        self, campus: "Campus[StudentLife]", learner: Learner, teacher: SimulatedInstructor, begins: date, hour: int
    ) -> None:
        self.campus, self.learner, self.teacher = campus, learner, teacher
        self.begins, self.hour = begins, hour
        self.pilot = Pilot(learner, f"{campus.seed} ")
        self.draw = self.pilot.random
        self.number, self.steady = 0, deque[bool](maxlen=CIRCUITS_LOOKED_AT)
        self.known = KnownFacts()
        self.release: Release | None = None
        self.set_aside = self.check_passed = False
        self.signed: list[Lesson] = []
        self.to_review: KnowledgeTest | None = None
        self.training_on = self.ended = begins

    def events(self) -> Iterator[SimulatedEvent]:
        yield self.campus.event(utc_datetime(self.begins, self.hour), self._enrol)
        day = self.begins
        for unit in self._course():
            near = unit.number >= 14
            gap = self.draw.choice(LESSON_GAP_DAYS_NEAR_SOLO if near else LESSON_GAP_DAYS) + (
                25 if self.draw.random() < 0.04 else 0
            )
            slot = self._slot(unit, day + timedelta(days=gap))
            if unit.kind == UnitKind.SOLO and self.release and slot.day.on > self.release.valid_until:
                continue  # it ran out before the wind was calm enough
            day = slot.day.on
            yield from self._lesson(unit, slot)
            if self.draw.random() < 0.004:
                how = Enrolment.End.TERMINATED
                break
        else:
            how = Enrolment.End.COMPLETED if self.release else Enrolment.End.TERMINATED
        self.ended = day + timedelta(days=2)
        yield self.campus.event(utc_datetime(self.ended, 22), lambda: self._end_training(how))

    def _course(self) -> Iterator[Unit]:
        """The units as often as this student needs them; asked for one at a time, so it sees how the last one went."""
        unit = self.campus.catalogue.unit
        for number in range(1, 14):
            yield unit(number)
            for _ in range(self.draw.randint(0, 1) + (number in (10, 11)) if number >= 8 else 0):
                yield unit(number)
        for _ in range(MAX_ROUNDS):
            yield unit(14)
            if sum(self.steady) >= GOOD_CIRCUITS:
                break
        yield unit(15)
        for _ in range(MAX_CHECKS):
            yield unit(16)
            if self.check_passed:
                break
            yield unit(14)
        for _ in range(MAX_WEEKS_WAITING):
            self.campus.candidates.append(self)
            yield unit(14)
            if self.release:
                break
        else:
            return
        for number in (17, 18, 18):
            yield unit(number)

    def _slot(self, unit: Unit, day: date) -> LessonSlot:
        """The first day on or after this one that can be flown and on which the instructor has time."""
        teacher = (
            self.campus.choose_other_instructor(self.teacher, self.draw)
            if unit.kind == UnitKind.STAGE_CHECK
            else self.teacher
        )
        ground = unit.kind == UnitKind.GROUND
        while True:
            weather = self.campus.weather.on(day)
            good = ground or (weather.is_within_solo_limits if unit.kind == UnitKind.SOLO else weather.is_flyable)
            if good and day.weekday() != SUNDAY and teacher.booked_lessons[day] < LESSONS_PER_DAY:
                break
            day += timedelta(days=1)
        hour = 8 + 2 * teacher.booked_lessons[day]
        teacher.booked_lessons[day] += 1
        other_type = unit.number < SOLO_STAGE_BEGINS and self.draw.random() < OTHER_TYPE_SHARE
        return self.slot_at(utc_datetime(day, hour), teacher, weather, ground=ground, other_type=other_type)

    def slot_at(
        self,
        begins: datetime,
        teacher: SimulatedInstructor,
        weather: WeatherDay,
        *,
        ground: bool = False,
        other_type: bool = False,
    ) -> LessonSlot:
        if ground:
            return LessonSlot(begins, teacher, weather, None, None)
        aircraft = self.draw.choice(self.campus.fleet[self.learner.tailwheel is not other_type])
        return LessonSlot(begins, teacher, weather, aircraft, self.campus.runways[RUNWAYS[weather.runway]])

    def _lesson(self, unit: Unit, slot: LessonSlot) -> Iterator[SimulatedEvent]:
        """Signed half an hour after it, a few two days later; most are acknowledged in the evening; one in a hundred is
        corrected."""
        flown: list[SimulatedLesson] = []
        late = timedelta(days=2) if self.draw.random() < 0.01 else timedelta(0)
        signed_at = slot.begins + timedelta(minutes=112) + late
        yield self.campus.event(signed_at, lambda: flown.append(self._fly_and_sign(unit, slot, signed_at)))
        odds = self.draw.random()
        if odds < 0.94:
            at = utc_datetime(signed_at.date(), 20, self.draw.randint(0, 59))
            sign = lambda: self.campus.desk.acknowledge(flown[0].lesson, at, odds < 0.005, self.draw)  # noqa: E731
            yield self.campus.event(at, sign)
        if not late and self.draw.random() < 0.01:
            at = utc_datetime(slot.day.on + timedelta(days=1), 7, 30)
            yield self.campus.event(at, lambda: self._correct(flown[0], slot.teacher, at))

    def _enrol(self) -> None:
        kind = self.campus.types[self.learner.tailwheel]
        at = utc_datetime(self.begins, self.hour)
        self.enrolment, self.known.papers = self.campus.office.enrol(self.learner, kind, self.teacher, at, self.draw)
        self.campus.active.append(self)

    def _fly_and_sign(self, unit: Unit, slot: LessonSlot, at: datetime) -> SimulatedLesson:
        flown = self.fly_unsigned(unit, slot)
        self._sign(flown, slot.teacher, at)
        if self.to_review is not None and self.draw.random() < REVIEWED_IN_A_LESSON_SHARE:
            self.campus.office.review(self.to_review, at)
            self.to_review = None
        if slot.aircraft and slot.teacher is self.teacher and unit.kind == UnitKind.DUAL:
            self.training_on = slot.day.on
        self._count_steady_circuits(flown)
        if unit.kind == UnitKind.STAGE_CHECK:
            self.check_passed = all(_is_good(row) for row in flown.tries if row.level is not Level.NOT_OBSERVED)
        if unit.number == 15:
            self._test(slot.teacher, at)
        return flown

    def _test(self, teacher: SimulatedInstructor, at: datetime) -> None:
        """What the ground lesson before solo ends with; some go through the wrong answers in a later lesson only."""
        reviewed = self.draw.random() < 0.7
        test = self.campus.office.test(self.enrolment, teacher, at, reviewed, self.draw)
        self.known.tests.append(test)
        self.to_review = None if reviewed or not test.wrong else test
        if self.learner.tailwheel:  # that type is complex and has more than 200 horsepower, too
            self._endorse(Endorsement.Kind.TAILWHEEL, TAILWHEEL_ENDORSEMENT_TEXT, teacher, at)
            self._endorse(Endorsement.Kind.COMPLEX, SYSTEMS_ENDORSEMENT_TEXT, teacher, at)
            self._endorse(Endorsement.Kind.HIGH_PERFORMANCE, SYSTEMS_ENDORSEMENT_TEXT, teacher, at)

    def _endorse(self, kind: Endorsement.Kind, text: str, teacher: SimulatedInstructor, at: datetime) -> None:
        self.known.endorsements.append(self.campus.office.endorse(self.enrolment, kind, text, teacher, at, self.draw))

    def _sign(self, flown: SimulatedLesson, teacher: SimulatedInstructor, at: datetime) -> None:
        self.campus.desk.sign(flown, teacher, at, self.draw)
        self.known.add(flown, self.campus.catalogue.manoeuvres)
        self.signed.append(flown.lesson)
        self.signed.sort(key=lambda lesson: (lesson.number, lesson.version))

    def decide(self, verdict: Verdict, limits: ReleaseLimits, at: datetime) -> None:
        """The chief does without one requirement, or releases on the instructor's endorsement."""
        office = self.campus.office
        if len(verdict.unmet) == 1 and not self.set_aside and self.draw.random() < 0.2:
            self.known.set_aside.append(office.set_aside(self.enrolment, verdict.unmet[0].key, at, self.draw))
            self.set_aside = True
            return
        self._endorse(Endorsement.Kind.PRE_SOLO_TRAINING, SOLO_ENDORSEMENT_TEXT, self.teacher, at)
        self.release = office.release(self.enrolment, limits, verdict, self.teacher, self.training_on, at, self.draw)

    def fly_unsigned(self, unit: Unit, slot: LessonSlot) -> SimulatedLesson:
        self.number += 1
        self.pilot.slumped = self.learner.slump and 45 < self.pilot.circuits < 75
        circuits = CIRCUITS_BY_UNIT.get(unit.number)
        return self.campus.lesson_generator.lesson(self.pilot, self.enrolment, unit, self.number, slot, circuits)

    def _count_steady_circuits(self, flown: SimulatedLesson) -> None:
        """Whether everything was to standard, unaided, in each of the last circuits."""
        for circuit in flown.circuits:
            parts = [row for row in flown.tries if row.circuit == circuit.number]
            self.steady.append(all(map(_is_good, parts)))

    def _correct(self, flown: SimulatedLesson, teacher: SimulatedInstructor, at: datetime) -> None:
        version = self.campus.lesson_generator.corrected(flown, "The remarks of another lesson.", at, self.draw)
        self._sign(version, teacher, at + timedelta(minutes=5))

    def _end_training(self, how: Enrolment.End) -> None:
        self.campus.active.remove(self)
        self.campus.ended.append(self)
        self.campus.office.end(self.enrolment, how, utc_datetime(self.ended, 22))


def _is_good(row: SimulatedTry) -> bool:
    return row.level is Level.PERFORM and row.help is Help.NONE
