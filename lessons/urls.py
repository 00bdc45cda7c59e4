from django.urls import path

from lessons.views import gates, syllabuses

app_name = "lessons"
urlpatterns = [
    path("gates/", gates.gates, name="gates"),
    path("gates/<slug:code>/", gates.gate_set, name="gate_set"),
    path("gates/<slug:code>/begin/", gates.begin_gates, name="begin_gates"),
    path("gates/<slug:code>/edit/", gates.edit_gates, name="edit_gates"),
    path("gates/<slug:code>/discard/", gates.discard_gates, name="discard_gates"),
    path("syllabuses/", syllabuses.syllabuses, name="syllabuses"),
    path("syllabuses/form/", syllabuses.syllabus_schema, name="syllabus_schema"),
    path("syllabuses/import/", syllabuses.import_syllabus, name="import_syllabus"),
    path("syllabuses/<int:pk>/", syllabuses.syllabus, name="syllabus"),
    path("syllabuses/<int:pk>/file.<str:kind>", syllabuses.syllabus_file, name="syllabus_file"),
    path("syllabuses/<int:pk>/draft/", syllabuses.begin_draft, name="begin_draft"),
    path("drafts/<int:pk>/", syllabuses.syllabus_draft, name="syllabus_draft"),
    path("drafts/<int:pk>/publish/", syllabuses.publish_draft, name="publish_draft"),
    path("drafts/<int:pk>/discard/", syllabuses.discard_draft, name="discard_draft"),
    path("drafts/<int:pk>/<slug:part>/<int:place>/", syllabuses.draft_part, name="draft_part"),
    path("records/<uuid:uid>/move/", syllabuses.move_student, name="move_student"),
]
