"""Add Theo's earlier training: four lessons copied from paper, one unit and some hours of them credited.

The last two were flown here before this record, with grades; one of them counts as evidence.
"""

from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta

from grading.actions.credit import decide_credit
from grading.actions.earlier_evidence import decide_earlier_evidence
from grading.exchange import import_table, receiving
from grading.models import PendingUpload
from lessons.earlier_training import earlier_totals
from lessons.models import Enrolment, Unit
from school.models import Person

STUDENT_NUMBER = "TP-0433"
PAPER_LOCATION = "Logbook of the student, pages 2 and 3; copy in folder 12"
HEADINGS = "School number,Date,Taught,Dual,Ground instruction,Takeoffs,Landings,Aircraft,Instructor,Certificate,School,"
GRADES = "Takeoff grade,Landing grade,Other grades"
HERON_BANK, HERE = ("QQ-OLD", "Heron Bank Aero Club"), ("QQ-TPC", "")
# Days before the first here, what was taught, dual, ground, takeoffs, landings, aircraft and school, and the grades.
LESSONS = (
    (21, "Familiarisation with the aircraft, taxiing", "0.5", "0.5", 1, 1, HERON_BANK, ",,"),
    (17, "Effects of controls, straight and level", "1.0", "", 1, 1, HERON_BANK, ",,"),
    (12, "Climbing, descending, turning", "0.9", "", 1, 1, HERE, "Explain,,climbing: Practice; turning: Explain"),
    (6, "Circuits with the instructor", "1.1", "", 5, 5, HERE, "Practice,Explain,"),
)
LESSONS_AS_EVIDENCE = 1
CREDITED_UNIT_NUMBER = 1
UNIT_CREDIT_REASON = "Checks, taxiing and the briefing on them are in the logbook, and were shown to me on the ground."
EVIDENCE_REASON = "The last one was in our own aircraft with an instructor whose grading I know."
HOURS_CREDIT_REASON = "Dual hours by the logbook. Landings are not carried forward: nobody here saw them."


def add_earlier_training(today: date, staff: Mapping[str, Person]) -> None:
    """Import the paper a day after enrolment; the chief instructor decides on the credit the same day."""
    enrolment = Enrolment.objects.select_related("student", "syllabus").get(student__reference=STUDENT_NUMBER)
    day = enrolment.enrolled_on + timedelta(days=1)
    rows = [f"{HEADINGS}Where the paper is kept,{GRADES}"]
    for ago, taught, dual, ground, takeoffs, landings, (aircraft, school), grades in LESSONS:
        flown = enrolment.enrolled_on - timedelta(days=30 + ago)
        cells = (STUDENT_NUMBER, flown, f'"{taught}"', dual, ground, takeoffs, landings)
        there = (aircraft, "Emmo Sarre", "CFI-000881", school, f'"{PAPER_LOCATION}"', grades)
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
    decide_earlier_evidence(
        enrolment=enrolment,
        count=LESSONS_AS_EVIDENCE,
        reason=EVIDENCE_REASON,
        by=staff["ruth"],
        at=_utc_datetime(day, 10),
    )


def _utc_datetime(day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour), UTC)
