"""What the pages of the access ladder are asked for: an object of each kind, by whose it is and how it stands.

Hugo's training has ended. `absent` is what nobody has: a stranger must not be able to tell it from what is there.
"""

import uuid
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from grading.actions import decisions, discarding, endorsements, sheets, training
from grading.exchange import import_table, receiving
from grading.models import PendingUpload, PrintRun, PrintRunItem, ReceivedRecord, Release, SettledFinding, Sheet
from lessons import actions as lesson_actions
from lessons import publishing
from lessons.models import Enrolment, Lesson
from school import actions as school_actions
from school import fleet
from school.attachments import CleanFile, attach
from school.models import AircraftPaper, Paper, Role
from tests.cast import SECRET, Cast
from tests.factories import add_person, begin_lesson, fly_lesson
from tests.track_files import create_track, create_upload

PAST_LESSONS_CSV = (
    "School number,Date,Taught,Dual,Instructor,Where the paper is kept\nT-4,2020-03-04,Exercise 4,0:50,Old One,Page 3\n"
)
UNKNOWN_UID = uuid.UUID("00000000-0000-4000-8000-000000000000")
UNKNOWN_ID = 987_654_321

Args = tuple[Any, ...]


@dataclass
class PageTargets:
    """`args`: of each kind of object, the arguments of an address by the name of the one asked for."""

    hugo: Any
    args: dict[str, dict[str, Args]]


def create_page_targets(cast: Cast) -> PageTargets:
    hugo, ended = _create_hugo(cast)
    written = begin_lesson(cast)
    signed = fly_lesson(cast, days_ago=3)
    cleos = begin_lesson(cast, instructor=cast.cleo)
    hugos = Lesson.objects.get(enrolment=ended)
    track, new_track = create_track(cast, signed), create_track(cast, written)
    gone = discarding.discard_lesson(lesson=begin_lesson(cast), reason="Rain", by=cast.bert, at=cast.at())
    args: dict[str, dict[str, Args]] = {
        "": {"": ()},
        "enrolment": {"dora": (cast.enrolment.uid,), "hugo": (ended.uid,), "absent": (UNKNOWN_UID,)},
        "lesson": {
            "written": (written.uid,),
            "signed": (signed.uid,),
            "cleos": (cleos.uid,),
            "hugo": (hugos.uid,),
            "absent": (UNKNOWN_UID,),
        },
        "circuit": {
            "signed": (signed.uid, 1),
            "hugo": (hugos.uid, 1),
            "ninth": (signed.uid, 9),
            "absent": (UNKNOWN_UID, 1),
        },
        "track": {
            "signed": (signed.uid, track.uid),
            "absent": (UNKNOWN_UID, track.uid),
            "unkept": (signed.uid, UNKNOWN_UID),
        },
        "track_circuit": {
            "signed": (signed.uid, track.uid, 1),
            "written": (written.uid, new_track.uid, 1),
            "ninth": (signed.uid, track.uid, 9),
            "absent": (UNKNOWN_UID, track.uid, 1),
        },
        "track_file": {"berts": (create_upload(cast, written).uid,), "absent": (UNKNOWN_UID,)},
        "discarded": {"dora": (gone.uid,), "absent": (UNKNOWN_UID,)},
        "student": {"dora": (cast.dora.pk,), "hugo": (hugo.pk,), "absent": (UNKNOWN_ID,)},
        "instructor": {"bert": (cast.bert.pk,), "dora": (cast.dora.pk,), "absent": (UNKNOWN_ID,)},
        "blank": {"dora": (cast.enrolment.uid, cast.units[8].pk), "absent": (UNKNOWN_UID, cast.units[8].pk)},
        "type": {"here": (cast.type.code,), "absent": ("nothing",)},
        "syllabus": {"here": (cast.enrolment.syllabus_id,), "absent": (UNKNOWN_ID,)},
        "syllabus_file": {"here": (cast.enrolment.syllabus_id, "yaml"), "absent": (UNKNOWN_ID, "yaml")},
        "aircraft": {"here": (cast.aircraft.pk,), "absent": (UNKNOWN_ID,)},
        "aircraft_paper": {"here": (_create_aircraft_paper(cast).pk,), "absent": (UNKNOWN_ID,)},
        "make": {"here": (cast.type.pk,), "absent": (UNKNOWN_ID,)},
        "aerodrome": {"here": (cast.runway.aerodrome_id,), "absent": (UNKNOWN_ID,)},
        "runway": {"here": (cast.runway.pk,), "absent": (UNKNOWN_ID,)},
        "link": {"absent": ("no-such-link",)},  # what a letter holds; the real ones are tried in tests/school
        "key": {"absent": ("1", "no-such-key")},
        "row": {"absent": (UNKNOWN_ID,)},
        "example": {"here": ("roster", "xlsx"), "absent": ("roster", "exe")},
    }
    args |= _decision_targets(cast) | _document_targets(cast, ended) | _file_targets(cast) | _draft_targets(cast)
    return PageTargets(hugo, args)


def _create_hugo(cast: Cast) -> tuple[Any, Enrolment]:
    at = cast.at(9, 100)
    hugo = add_person("Hugo", "T-7", Role.STUDENT, at=at)
    enrolment = lesson_actions.enrol(
        student=hugo, syllabus=cast.enrolment.syllabus, aircraft_type=cast.type, instructor=cast.bert,
        on=at.date(), by=cast.frida, at=at,
    )  # fmt: skip
    fly_lesson(cast, days_ago=20, enrolment=enrolment)
    day = cast.today - timedelta(days=10)
    return hugo, training.end_training(enrolment=enrolment, on=day, end="terminated", by=cast.frida, at=cast.at(9, 10))


def _create_aircraft_paper(cast: Cast) -> AircraftPaper:
    return fleet.record_aircraft_paper(
        aircraft=cast.aircraft, kind="annual", issued=cast.today, by=cast.frida, at=cast.at()
    )


def _decision_targets(cast: Cast) -> dict[str, dict[str, Args]]:
    test = training.record_written_test(
        enrolment=cast.enrolment, aircraft_type=cast.type, taken_on=cast.today, topics=[], questions=20, wrong=3,
        reviewed_on=None, given_by=cast.bert, by=cast.bert, at=cast.at(),
    )  # fmt: skip
    endorsed = endorsements.endorse_for_tailwheel(
        enrolment=cast.enrolment, text="Proficient.", on=cast.today, secret=SECRET, by=cast.bert, at=cast.at()
    )
    decisions.set_aside_requirement(
        enrolment=cast.enrolment, requirement="second_instructor", reason="Nobody here.", by=cast.amelia, at=cast.at()
    )
    released = Release.objects.create(
        enrolment=cast.enrolment, aircraft_type=cast.type, aerodrome=cast.runway.aerodrome, runways="18",
        max_wind_kt=12, max_crosswind_kt=5, min_visibility_sm=5, min_ceiling_ft=1500, valid_from=cast.today,
        valid_until=cast.today, training_on=cast.today, endorsed_by=cast.bert, verdict={}, decided_at=cast.at(),
        decided_by=cast.amelia,
    )  # fmt: skip
    settled = SettledFinding.objects.create(
        enrolment=cast.enrolment, kind="long_gap", on=cast.today, facts="0" * 64, reason="Ill.", settled_at=cast.at(),
        settled_by=cast.amelia,
    )  # fmt: skip
    uid = cast.enrolment.uid
    return {
        "settled": {"here": (settled.uid,), "absent": (UNKNOWN_UID,)},
        "test": {"dora": (uid, test.pk), "absent": (UNKNOWN_UID, test.pk), "no such": (uid, UNKNOWN_ID)},
        "requirement": {"dora": (uid, "second_instructor"), "absent": (UNKNOWN_UID, "second_instructor")},
        "endorsement": {"dora": (endorsed.uid,), "absent": (UNKNOWN_UID,)},
        "release": {"dora": (released.uid,), "absent": (UNKNOWN_UID,)},
    }


def _document_targets(cast: Cast, ended: Enrolment) -> dict[str, dict[str, Args]]:
    paper = Paper.objects.create(
        person=cast.dora, kind="english", issued=cast.today, recorded_at=cast.at(), recorded_by=cast.frida
    )
    picture = attach(document=paper, file=CleanFile("image/png", b"x"), by=cast.frida, at=cast.at())
    made = sheets.print_progress_sheet(enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at())
    hugos = _copy_sheet(made, enrolment=ended)
    berts = _copy_sheet(made, enrolment=None, instructor=cast.bert, kind=Sheet.Kind.ENDORSEMENTS)
    run = PrintRun.objects.create(
        kind="progress", on=cast.today, paper="A4", chosen="picked", asked_at=cast.at(), asked_by=cast.frida
    )
    PrintRunItem.objects.create(run=run, enrolment=cast.enrolment, position=1, sheet=made)
    key = school_actions.create_calendar_address(person=cast.dora, at=cast.at())
    return {
        "paper": {"dora": (paper.pk,), "absent": (UNKNOWN_ID,)},
        "attachment": {"dora": (picture.uid,), "absent": (UNKNOWN_UID,)},
        "certificate_held": {"bert": (cast.bert.papers.get().pk,), "dora": (paper.pk,), "absent": (UNKNOWN_ID,)},
        "sheet": {"dora": (made.uid,), "hugo": (hugos.uid,), "bert": (berts.uid,), "absent": (UNKNOWN_UID,)},
        "run": {"here": (run.uid,), "absent": (UNKNOWN_UID,)},
        "fingerprint": {"here": (made.content["head"]["digest"],), "absent": ("0" * 64,)},
        "certificate": {"here": (made.content["head"]["certificate"],), "absent": ("0" * 64,)},
        "calendar": {"dora": (key,), "absent": (UNKNOWN_UID,)},
    }


def _copy_sheet(made: Sheet, **changes: Any) -> Sheet:
    """Another sheet with the same bytes: who may read it is asked, not what stands on it."""
    copy = Sheet.objects.get(pk=made.pk)
    copy.pk, copy.uid = None, uuid.uuid4()
    for name, value in changes.items():
        setattr(copy, name, value)
    copy.save(force_insert=True)
    return copy


def _file_targets(cast: Cast) -> dict[str, dict[str, Args]]:
    past = _create_upload(cast, "past_lessons", PAST_LESSONS_CSV)
    import_table.import_table(upload=past, on=cast.today, by=cast.frida, at=cast.at())
    table = _create_upload(cast, "aircraft", f"Registration,Type\nQQ-XXB,{cast.type.code}\n")
    made = receiving.hand_over_record(student=cast.dora, on=cast.today, by=cast.frida, at=cast.at())
    whole = receiving.save_upload(kind="hand_over", name=made.name, content=made.content, by=cast.frida, at=cast.at())
    return {
        "table": {"here": (table.uid,), "absent": (UNKNOWN_UID,)},
        "record": {"here": (whole.uid,), "absent": (UNKNOWN_UID,)},
        "received": {"dora": (ReceivedRecord.objects.get().pk,), "absent": (UNKNOWN_ID,)},
    }


def _create_upload(cast: Cast, kind: str, text: str) -> PendingUpload:
    return receiving.save_upload(kind=kind, name=f"{kind}.csv", content=text.encode(), by=cast.frida, at=cast.at())


def _draft_targets(cast: Cast) -> dict[str, dict[str, Args]]:
    draft = publishing.begin_draft(syllabus=cast.enrolment.syllabus, by=cast.amelia, at=cast.at())
    return {
        "draft": {"here": (draft.pk,), "absent": (UNKNOWN_ID,)},
        "draft_part": {"here": (draft.pk, "units", 0), "absent": (UNKNOWN_ID, "units", 0)},
    }
