"""Settings of the benchmark: as in production, on a cluster of its own for each size, which may be thrown away."""

import os

from school import embedded
from school.settings import *  # noqa: F403
from school.settings import BASE_DIR, PLANNER, STORAGES, VAR

STUDENTS = int(os.environ.get("BENCHMARK_STUDENTS", "500"))
YEARS = int(os.environ.get("BENCHMARK_YEARS", "3"))
CLUSTER = VAR / os.environ.get("BENCHMARK_CLUSTER", f"benchmark-{STUDENTS}")
DATABASES = {
    "default": dict(embedded.database(CLUSTER, role=os.environ.get("DATABASE_ROLE", "app"))) | {"OPTIONS": PLANNER}
}
SEAL_HEAD_FILE = ""  # one chain for each size
ALLOWED_HOSTS = ["testserver", "127.0.0.1"]
ROOT_URLCONF = "tests.benchmarks.urls"
SECURE_SSL_REDIRECT = False
STORAGES = STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
WHITENOISE_AUTOREFRESH = True
WHITENOISE_USE_FINDERS = True  # as they lie in the apps, nothing is collected
STATIC_ROOT = BASE_DIR / "school/static"  # a folder that exists; files are found in the apps
SEAL_WAITING_SECONDS = 2 * 24 * 3600  # the last day of the academy ends later than now
