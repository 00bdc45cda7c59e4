app_name = "grading"
urlpatterns: list = []
