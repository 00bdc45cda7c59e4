"""The address book of the whole project, and the school's own pages."""

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import include, path

from school import views

handler500 = "school.views.failed"

school_pages = [
    path("login/", LoginView.as_view(redirect_authenticated_user=True), name="login"),
    path("logout/", LogoutView.as_view(), name="logout"),
    path("light/", views.light, name="light"),
    path("manifest.webmanifest", views.manifest, name="manifest"),
    path("marks/", views.key_to_marks, name="key_to_marks"),
]

urlpatterns = [
    path("", include((school_pages, "school"))),
    path("", include("lessons.urls")),
    path("", include("grading.urls")),
]
