"""Settings of the tests: the same database engine, quick and forgetful; quick password hashes."""

import os

from school import embedded
from school.settings import *  # noqa: F403
from school.settings import BASE_DIR, DATABASES, PLANNER, STORAGES, VAR

if not os.environ.get("DATABASE_URL"):
    DATABASES["default"] = dict(embedded.database(VAR / "postgres-tests", role="owner", durable=False))
    DATABASE_DISK = str(VAR / "postgres-tests")
    DATABASES["default"] |= {"OPTIONS": PLANNER, "CONN_MAX_AGE": 60}  # as on a server
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.MD5PasswordHasher",
    "django.contrib.auth.hashers.Argon2PasswordHasher",  # the demo school's
]
STORAGES = STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
# Each process of the tests has places of its own, so that none waits for another's readers.
READERS_FOLDER = str(VAR / "readers-tests" / os.environ.get("PYTEST_XDIST_WORKER", "main"))
READER_TIMEOUT = 600.0  # seconds; the tests' other processes go first
SECURE_SSL_REDIRECT = False
# Tests write the past of a student in whatever order reads best; those of the chain ask for the real time.
SEAL_WAITING_SECONDS = 10 * 366 * 24 * 3600
SEAL_HEAD_FILE = ""  # each test has a chain of its own
WHITENOISE_AUTOREFRESH = True
WHITENOISE_USE_FINDERS = True  # as they lie in the apps, nothing is collected
STATIC_ROOT = BASE_DIR / "school/static"  # a folder that exists; files are found in the apps
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
