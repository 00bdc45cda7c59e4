"""Settings of the project, from the environment, safe by default.

Two ways to run:
* with DATABASE_URL: a server on the internet. SECRET_KEY and ALLOWED_HOSTS must be given.
* without: this machine only. PostgreSQL is started under .var/, a secret is kept there, 127.0.0.1 is the only host.
"""

import secrets
from pathlib import Path
from typing import Any

import environ

from school import embedded

BASE_DIR = Path(__file__).resolve().parent.parent
VAR = BASE_DIR / ".var"
env = environ.Env()

ON_THIS_MACHINE = not env.str("DATABASE_URL", default="")


def kept_secret(path: Path) -> str:
    """The secret of an installation on this machine: made once, readable by its owner only."""
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(64))
    return path.read_text()


DEBUG = env.bool("DEBUG", default=False)

if ON_THIS_MACHINE:
    SECRET_KEY = env.str("SECRET_KEY", default="") or kept_secret(VAR / "secret")
    ALLOWED_HOSTS = ["127.0.0.1", "localhost"]
    DATABASES: dict[str, Any] = {
        "default": dict(embedded.database(VAR / "postgres", role=env.str("DATABASE_ROLE", default="app")))
    }
else:
    SECRET_KEY = env.str("SECRET_KEY")
    ALLOWED_HOSTS = env.list("ALLOWED_HOSTS")
    DATABASES = {"default": env.db_url("DATABASE_URL")}
    CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS]
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_SSL_REDIRECT = True
    SECURE_HSTS_SECONDS = 365 * 24 * 3600
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True

DATABASES["default"]["CONN_MAX_AGE"] = 60
DATABASES["default"]["CONN_HEALTH_CHECKS"] = True

INSTALLED_APPS = [
    "school.apps.SchoolConfig",
    "lessons.apps.LessonsConfig",
    "grading.apps.GradingConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.postgres",
    "django_htmx",
    "procrastinate.contrib.django",
    "template_partials",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "school.middleware.WhatTheRecordCanHold",
    "school.middleware.RefusedMeanwhile",
    "school.middleware.NoDevices",
]

# Scripts, styles and fonts are files of the project; nothing stands in a page itself and nothing comes from elsewhere.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "manifest-src": ["'self'"],
        "worker-src": ["'self'"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
    }
}

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "school.context.page",
            ],
        },
    }
]

ROOT_URLCONF = "school.urls"
WSGI_APPLICATION = "school.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "school.Person"
LOGIN_URL = "school:login"
LOGIN_REDIRECT_URL = "grading:home"
LOGOUT_REDIRECT_URL = "school:login"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "school.views.csrf_failure"
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"  # the trade writes UTC; pages say so
USE_TZ = True
USE_I18N = False

# The address that stands on printed sheets, under which anybody can have one checked.
PUBLIC_ADDRESS = env.str(
    "PUBLIC_ADDRESS", default=f"https://{ALLOWED_HOSTS[0]}" if not ON_THIS_MACHINE else "http://127.0.0.1:8000"
)
# The school's key and certificate in one PEM file, its passphrase, and a server of time stamps (RFC 3161), if any.
SIGNING_KEY_FILE = env.str("SIGNING_KEY_FILE", default=str(VAR / "signing" / "demonstration.pem"))
SIGNING_KEY_PASSPHRASE = env.str("SIGNING_KEY_PASSPHRASE", default="")
TIMESTAMP_SERVER = env.str("TIMESTAMP_SERVER", default="")

STATIC_URL = "/static/"
STATIC_ROOT = VAR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "school.static_files.ModuleStorage"},
}
MEDIA_ROOT = VAR / "media"

# The queue: workers are `manage.py procrastinate worker`. One that is silent for three beats counts as killed.
HEARTBEAT = 10.0  # seconds
WORKER_GIVEN_UP_AFTER = 3 * HEARTBEAT
TAKE_UP_AGAIN = "* * * * *"  # how often jobs of killed workers are looked for
PRINT_JOBS_AT_ONCE = env.int("PRINT_JOBS_AT_ONCE", default=8)  # workers that may share one print run
DAILY_BY_WORKER = env.bool("DAILY_BY_WORKER", default=True)  # false where cron runs the commands of every day
PROCRASTINATE_ON_APP_READY = "grading.tasks.register"
PROCRASTINATE_WORKER_DEFAULTS = {
    "update_heartbeat_interval": HEARTBEAT,
    "stalled_worker_timeout": WORKER_GIVEN_UP_AFTER,
    "shutdown_graceful_timeout": 2.0,  # then a job under way ends after its item and is taken up by another worker
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
