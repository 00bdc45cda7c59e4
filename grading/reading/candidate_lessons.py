"""Select in SQL the lessons that may give cause for a finding, so that the others are not read.

The rules of grading/rules/inspection decide; this only leaves out what none of them would name, and a test compares the
two. What depends on the order of lessons (gaps, overlaps) is computed by window functions: they sort once, where
comparing pairs would grow with the square.
"""

from datetime import datetime, timedelta

from django.db.models import DateTimeField, Exists, F, Func, Max, OuterRef, Q, RowRange, Subquery, Window
from django.db.models.functions import Cast, Coalesce, Extract, Lag, Lead

from grading.models import Signature
from grading.rules.inspection.finding import BLOCK_TIME_TOLERANCE_MINUTES
from grading.rules.readiness.standard import Policy
from lessons.models.lesson import LessonQuerySet
from lessons.rules.scale import UnitKind
from school.models import Paper

ONE_DAY = timedelta(days=1)
# Whom and what a lesson occupies.
SHARED_RESOURCES = {"student": "enrolment__student", "instructor": "instructor", "aircraft": "aircraft"}


def annotate_neighbours(rows: LessonQuerySet) -> LessonQuerySet:
    """Annotate each lesson with the day of the one before it (`before`) and the student's act under it (`answer`)."""
    answers = Signature.objects.filter(lesson=OuterRef("pk"), capacity=Signature.Capacity.STUDENT)
    return rows.annotate(answer=Subquery(answers.values("act")[:1]), before=_window_over_course(Lag("on")))


def filter_candidates(rows: LessonQuerySet, at: datetime, policy: Policy) -> LessonQuerySet:
    """Filter lessons with their neighbours: those that may give cause for a finding, and the last of each enrolment."""
    rows = rows.annotate(
        after=_window_over_course(Lead("on")),
        day=Cast("on", DateTimeField()),
        block=Extract(F("on_blocks") - F("off_blocks"), "epoch") / 60,
        **{f"until_{who}": _latest_end_before(field) for who, field in SHARED_RESOURCES.items()},
        **{
            # The next one by off blocks begins first of all that follow: if it does not overlap, none of them does.
            f"next_{who}": Window(Lead("off_blocks"), [F(field)], "off_blocks")
            for who, field in SHARED_RESOURCES.items()
        },
    )
    signatures, course = _signature_conditions(at, policy), _course_conditions(policy)
    return rows.filter(signatures | _content_conditions() | course | _overlap_conditions())


def _window_over_course(of: Func) -> Window:
    return Window(of, [F("enrolment")], ["on", "number", "version"])


def _latest_end_before(field: str) -> Window:
    # The latest end of all lessons before and not that of the last one: a long lesson may span several short ones.
    frame = RowRange(start=None, end=-1)
    return Window(Max("on_blocks"), [F(field)], "off_blocks", frame)


def _signature_conditions(at: datetime, policy: Policy) -> Q:
    # From the beginning of the day where the rule counts from its end: one candidate too many is harmless, and one
    # too few would be a finding that nobody sees.
    late = Coalesce(F("on_blocks"), F("day")) + timedelta(hours=policy.hours_to_sign)
    waits = at - timedelta(days=policy.days_to_acknowledge)
    # The same conditions as in _certificates() of inspection_facts.py, which a signature needs (14 CFR
    # 61.51(h)(2)(ii)).
    certificates = Paper.objects.in_force().filter(
        kind=Paper.Kind.INSTRUCTOR_CERTIFICATE, person=OuterRef("instructor"), issued__lte=OuterRef("on")
    )
    certified = certificates.exclude(number="").filter(
        Q(expires__gte=OuterRef("on")) | Q(expires=None, recent_experience_until__gte=OuterRef("on"))
    )
    answered = Q(answer=Signature.Act.REFUSED) | Q(answer=None, signed_at__lt=waits)
    return Q(signed_at=None) | Q(signed_at__gt=late) | answered | Q(~Exists(certified))


def _content_conditions() -> Q:
    """Match lessons in which something is empty, or a number does not fit the others."""
    flight = F("dual_minutes") + F("solo_minutes")
    lacks = Q(aircraft=None) | Q(runway=None) | Q(off_blocks=None) | Q(on_blocks=None)
    zero = Q(takeoffs=0) | Q(landings=0) | Q(dual_minutes=0, solo_minutes=0)
    ground = Q(unit__kind=UnitKind.GROUND)
    numbers = (
        Q(block__gt=flight + BLOCK_TIME_TOLERANCE_MINUTES)
        | Q(block__lt=flight - BLOCK_TIME_TOLERANCE_MINUTES)
        | Q(night_minutes__gt=flight)
        | Q(instrument_minutes__gt=flight)
        # A day on either side is no contradiction, because block times are UTC: see number_findings().
        | Q(off_blocks__lt=F("day") - ONE_DAY)
        | Q(off_blocks__gt=F("day") + ONE_DAY)
    )
    return (~ground & (lacks | zero)) | (ground & Q(ground_minutes=0)) | numbers


def _course_conditions(policy: Policy) -> Q:
    """Match solo flights, lessons outside the enrolment, the end of a gap, and the last lesson."""
    gap = Q(before__lt=F("on") - timedelta(days=policy.max_days_between_lessons))
    outside = Q(on__lt=F("enrolment__enrolled_on")) | Q(on__gt=F("enrolment__ended_on"))
    # A lesson without an aircraft is left to the finding that says so.
    other_type = ~Q(aircraft__type=F("enrolment__aircraft_type")) & Q(aircraft__isnull=False)
    # Every solo flight stays in: what it rested on is judged from papers and endorsements, which this query does not
    # know.
    alone = Q(unit__kind=UnitKind.SOLO) | Q(solo_minutes__gt=0)
    # The last lesson stays in too: long_without_findings() counts the days since then.
    return alone | outside | other_type | gap | Q(after=None)


def _overlap_conditions() -> Q:
    conditions = Q()
    for who in SHARED_RESOURCES:
        conditions |= Q(**{f"until_{who}__gt": F("off_blocks")}) | Q(**{f"next_{who}__lt": F("on_blocks")})
    return conditions
