from django.urls import path

from grading.views import lesson, lessons, opening, records, standards, students, training

app_name = "grading"
urlpatterns = [
    path("", students.home, name="home"),
    path("open/", opening.open_page, name="open_page"),
    path("me/", students.own_progress, name="own_progress"),
    path("students/", students.board, name="board"),
    path("students.csv", students.board_csv, name="board_csv"),
    path("students/<uuid:uid>/", students.readiness, name="readiness"),
    path("students/<uuid:uid>/set-aside/", students.set_aside, name="set_aside"),
    path("students/<uuid:uid>/ask-again/<slug:requirement>/", students.ask_again, name="ask_again"),
    path("students/<uuid:uid>/release/", students.release, name="release"),
    path("students/<uuid:uid>/written-test/", training.written_test, name="written_test"),
    path("students/<uuid:uid>/written-test/<int:pk>/reviewed/", training.review_test, name="review_test"),
    path("students/<uuid:uid>/tailwheel/", training.tailwheel_endorsement, name="tailwheel_endorsement"),
    path("standard/", standards.standard, name="standard"),
    path("students/<uuid:uid>/solo-endorsement/", training.solo_endorsement, name="solo_endorsement"),
    path("releases/<uuid:uid>/withdraw/", students.withdraw_release, name="withdraw_release"),
    path("lessons/", lessons.lessons, name="lessons"),
    path("lessons/begin/<uuid:uid>/", lessons.begin_lesson, name="begin_lesson"),
    path("lessons/<uuid:uid>/discard/", lessons.discard_lesson, name="discard_lesson"),
    path("lessons/<uuid:uid>/", lesson.lesson, name="lesson"),
    path("lessons/<uuid:uid>/entries/", lesson.entries, name="entries"),
    path("lessons/<uuid:uid>/undo/", lesson.undo, name="undo"),
    path("lessons/<uuid:uid>/sign/", lesson.sign, name="sign"),
    path("lessons/<uuid:uid>/acknowledge/", lesson.acknowledge, name="acknowledge"),
    path("lessons/<uuid:uid>/correct/", lesson.correct, name="correct"),
    path("records/", records.records, name="records"),
    path("records/enrol/", records.enrol_student, name="enrol_student"),
    path("records/<uuid:uid>/", records.student_record, name="student_record"),
    path("records/<uuid:uid>/papers/", records.add_paper, name="add_paper"),
    path("records/papers/<int:pk>/void/", records.void_paper, name="void_paper"),
    path("records/<uuid:uid>/sheets/", records.print_sheet, name="print_sheet"),
    path("sheets/<uuid:uid>.pdf", records.sheet_pdf, name="sheet_pdf"),
]
