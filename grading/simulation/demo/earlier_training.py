"""Add Theo's earlier training: four lessons copied from paper, one unit and some hours of them credited."""

from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta

from grading.actions.credit import decide_credit
from grading.exchange import import_table, receiving
from grading.models import PendingUpload
from lessons.earlier_training import earlier_totals
from lessons.models import Enrolment, Unit
from school.models import Person

STUDENT_NUMBER = "TP-0433"
PAPER_LOCATION = "Logbook of the student, pages 2 and 3; copy in folder 12"
HEADINGS = "School number,Date,Taught,Dual,Ground instruction,Takeoffs,Landings,Aircraft,Instructor,Certificate,School,"
LESSONS = (
    (21, "Familiarisation with the aircraft, taxiing", "0.5", "0.5", 1, 1),
    (17, "Effects of controls, straight and level", "1.0", "", 1, 1),
    (12, "Climbing, descending, turning", "0.9", "", 1, 1),
    (6, "Circuits with the instructor", "1.1", "", 5, 5),
)
CREDITED_UNIT_NUMBER = 1
UNIT_CREDIT_REASON = "Checks, taxiing and the briefing on them are in the logbook, and were shown to me on the ground."
HOURS_CREDIT_REASON = "Dual hours by the logbook. Landings are not carried forward: nobody here saw them."


def add_earlier_training(today: date, staff: Mapping[str, Person]) -> None:
    """Import the paper a day after enrolment; the chief instructor decides on the credit the same day."""
    enrolment = Enrolment.objects.select_related("student", "syllabus").get(student__reference=STUDENT_NUMBER)
    day = enrolment.enrolled_on + timedelta(days=1)
    rows = [HEADINGS + "Where the paper is kept"]
    for ago, taught, dual, ground, takeoffs, landings in LESSONS:
        flown = enrolment.enrolled_on - timedelta(days=30 + ago)
        cells = (STUDENT_NUMBER, flown, f'"{taught}"', dual, ground, takeoffs, landings)
        there = ("QQ-OLD", "Emmo Sarre", "CFI-000881", "Heron Bank Aero Club", f'"{PAPER_LOCATION}"')
        rows.append(",".join(str(cell) for cell in (*cells, *there)))
    upload = receiving.save_upload(
        kind=PendingUpload.Kind.PAST_LESSONS,
        name="lessons-from-heron-bank.csv",
        content="\n".join(rows).encode(),
        by=staff["dag"],
        at=_utc_datetime(day, 10),
    )
    import_table.import_table(upload=upload, on=today, by=staff["dag"], at=_utc_datetime(day, 10))
    totals = earlier_totals(enrolment.student)
    decide_credit(
        enrolment=enrolment,
        units={
            Unit.objects.select_related("stage").get(
                stage__syllabus=enrolment.syllabus, number=CREDITED_UNIT_NUMBER
            ): UNIT_CREDIT_REASON
        },
        counted={name: totals[name] for name in ("dual_minutes", "ground_minutes")},
        reason=HOURS_CREDIT_REASON,
        by=staff["ruth"],
        at=_utc_datetime(day, 10),
    )


def _utc_datetime(day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour), UTC)
