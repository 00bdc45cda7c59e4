from django.urls import path

from lessons.views import lessons

app_name = "lessons"
urlpatterns = [
    path("", lessons.lessons, name="lessons"),
    path("begin/<uuid:uid>/", lessons.begin_lesson, name="begin_lesson"),
    path("<uuid:uid>/discard/", lessons.discard_lesson, name="discard_lesson"),
]
