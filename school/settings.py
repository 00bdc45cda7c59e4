"""Settings of the project, from the environment, safe by default.

Two ways to run:
* with DATABASE_URL: a server on the internet. SECRET_KEY and ALLOWED_HOSTS must be given.
* without: this machine only. PostgreSQL runs in a folder of its own while a process uses it, a secret is saved there,
  127.0.0.1 is the only host. The folder is .var/ or DATA_FOLDER; its file "environment", made by `manage.py start`, is
  read like the environment, which goes before it.
"""

import getpass
import os
import secrets
from pathlib import Path
from typing import Any

import environ
from django.core.exceptions import ImproperlyConfigured

from school import embedded, logs

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()
VAR = BASE_DIR / env.str("DATA_FOLDER", default=".var")
if not env.str("DATABASE_URL", default="") and (VAR / "environment").exists():
    env.read_env(VAR / "environment")

# Commands that change tables connect as their owner (manage.py), everything else as the application's role.
DATABASE_ROLE = env.str("DATABASE_ROLE", default="app")
ON_THIS_MACHINE = not env.str("DATABASE_URL", default="")


def read_or_create_secret(path: Path) -> str:
    """Return the secret of an installation on this machine, made once and readable by its owner only."""
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        # Written beside and then linked into place: nobody reads half a secret, and who comes second keeps the first's.
        half = path.with_name(f"{path.name}.{os.getpid()}")
        try:
            # Closed to others before the secret is in it.
            half.touch(mode=0o600)
            half.write_text(secrets.token_urlsafe(64))
            os.link(half, path)
        except FileExistsError:
            pass
        finally:
            half.unlink(missing_ok=True)
    return path.read_text()


DEBUG = env.bool("DEBUG", default=False)

if ON_THIS_MACHINE:
    SECRET_KEY = env.str("SECRET_KEY", default="") or read_or_create_secret(VAR / "secret")
    ALLOWED_HOSTS = ["127.0.0.1", "localhost"]
    DATABASES: dict[str, Any] = {"default": embedded.on_demand(VAR / "postgres", role=DATABASE_ROLE)}
    DATABASE_APP_ROLE = embedded.ROLES["app"]
else:
    SECRET_KEY = env.str("SECRET_KEY")
    ALLOWED_HOSTS = env.list("ALLOWED_HOSTS")
    # With “*” a forged Host header would stand in the links of e-mails that are built from a request.
    if not SECRET_KEY or not ALLOWED_HOSTS or "*" in ALLOWED_HOSTS:
        raise ImproperlyConfigured("A server needs a SECRET_KEY, and its own names in ALLOWED_HOSTS.")
    DATABASES = {"default": env.db_url("DATABASE_URL")}
    DATABASE_APP_ROLE = DATABASES["default"].get("USER") or getpass.getuser()
    if DATABASE_ROLE == "owner" and env.str("DATABASE_OWNER_URL", default=""):
        DATABASES = {"default": env.db_url("DATABASE_OWNER_URL")}
    CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS]
    # Only behind a proxy that sets this header itself: otherwise any client could claim to come over https.
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^(health|ready|metrics)/$"]  # asked from the machine itself, without TLS
    # Seconds, after which a page says that the records cannot be reached.
    DATABASES["default"].setdefault("OPTIONS", {}).setdefault("connect_timeout", 10)
    SECURE_HSTS_SECONDS = 365 * 24 * 3600
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    # A browser takes a cookie of such a name only over https, for every path, and from this very host.
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"
DISPLAY_COOKIE = "light" if ON_THIS_MACHINE else "__Host-light"
ROWS_COOKIE = "rows" if ON_THIS_MACHINE else "__Host-rows"
DEVICE_COOKIE = "device" if ON_THIS_MACHINE else "__Host-device"  # a device that somebody logged in with before

# Counters of the limits on guessing: every process must see the same ones, so they lie in the database.
CACHES: dict[str, dict[str, Any]] = {
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "school_cache",
        "OPTIONS": {"MAX_ENTRIES": 100_000},  # past it what has run out goes first; the day's work clears it anyway
    },
}

# Rows lie in memory or on a disk without a moving head: by an index is nearly as cheap as in order. PostgreSQL's own
# 4.0 is that of a turning disk, and made it read whole histories for the lessons of one student.
PLANNER = {"options": "-c random_page_cost=1.1"}
DATABASES["default"]["OPTIONS"] = DATABASES["default"].get("OPTIONS", {}) | PLANNER
DATABASES["default"]["CONN_MAX_AGE"] = 60
# A restart of the server leaves dead connections behind: one that is used again is tried first.
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
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "django_htmx",
    "procrastinate.contrib.django",
    "template_partials",
]

# The order matters: the id comes first, so that each line of the log about a request has it. The size is checked before
# CsrfViewMiddleware reads the body, and so is whether anything can read its file. The second step is asked for where it
# is known who is logged in.
MIDDLEWARE = [
    "school.middleware.RequestId",
    "school.middleware.RequestMetrics",
    "school.middleware.SecurityHeaders",
    "school.middleware.SelectiveGZip",
    "school.current.cache_school_per_request",
    "csp.middleware.CSPMiddleware",
    "school.middleware.RequestSizeLimit",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "school.middleware.BusyReadersResponse",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "school.middleware.KnownDevice",
    "school.middleware.RejectNul",
    "school.middleware.ConflictResponse",
    "school.middleware.FailedReauthentication",
    "school.middleware.RequireSecondStep",
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
        "upgrade-insecure-requests": not ON_THIS_MACHINE,
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
                "school.context.page_context",
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
AUTHENTICATION_BACKENDS = ["school.accounts.backend.LoginNameOrEmailBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
# The password signs records by itself, without a second step: 15 characters for everybody (NIST SP 800-63B-4, from
# memory: 15 where it stands alone), no rules of composition, no end of its validity.
MIN_PASSWORD_LENGTH = 15
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": MIN_PASSWORD_LENGTH},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "given_name", "family_name", "name", "reference", "email")},
    },
    {"NAME": "school.accounts.passwords.SchoolNameValidator"},
]
ACCOUNT_ADAPTER = "school.accounts.adapter.AccountAdapter"
ACCOUNT_LOGIN_METHODS = {"username", "email"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*"]  # nobody signs up; the address of that page does not exist
ACCOUNT_EMAIL_VERIFICATION = "none"  # an invitation confirms the address, and so does a change of it
ACCOUNT_CHANGE_EMAIL = True
# A session left open on a shared tablet must not be enough to change how its person logs in.
ACCOUNT_REAUTHENTICATION_REQUIRED = True
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_EMAIL_NOTIFICATIONS = True
ACCOUNT_PASSWORD_RESET_TOKEN_GENERATOR = "school.accounts.tokens.ForgottenPasswordTokenGenerator"  # noqa: S105 - a name
ACCOUNT_FORMS = {
    "login": "school.accounts.forms.LoginForm",
    "change_password": "school.accounts.forms.ChangePasswordForm",
    "reset_password": "school.accounts.forms.ForgottenPasswordForm",
    "reset_password_from_key": "school.accounts.forms.ResetPasswordForm",
    "add_email": "school.accounts.forms.ChangeEmailForm",
    "reauthenticate": "school.accounts.forms.ReauthenticatePasswordForm",
}
# By address of the client and by account, over minutes. A device that its person logged in with before has a counter
# of its own (school/accounts/devices.py), so that nobody else's guessing keeps that person out; on an unknown device
# they get in again soon, by a passkey or by a new password at once.
ACCOUNT_RATE_LIMITS = {
    "login": "",  # allauth would count every visitor of a network together; the next lines count strangers only
    "login_by_stranger": "60/m/ip",
    "login_failed_by_stranger": "20/m/ip",
    "login_failed": "10/5m/key",  # the account's, of all unknown devices together
    "login_failed_on_device": "10/5m/key",  # a known device's own
    "reset_password": "10/m/ip,3/15m/key",
    "reset_password_from_key": "20/m/ip",
    "reauthenticate": "10/m/user",
    "change_password": "5/m/user",
}
MFA_ADAPTER = "school.accounts.adapter.SecondStepAdapter"
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_RATE_LIMITS = {"webauthn_login": "20/m/ip"}
MFA_TOTP_TOLERANCE = 1  # one step of 30 seconds either way (RFC 6238, section 5.2)
MFA_RECOVERY_CODES_SHOW_ONCE = True
MFA_ALLOW_UNVERIFIED_EMAIL = True  # the guard is against strangers who sign up
MFA_FORMS = {
    "authenticate": "school.accounts.forms.SecondStepCodeForm",
    "reauthenticate": "school.accounts.forms.ReauthenticateCodeForm",
    "activate_totp": "school.accounts.forms.SetUpOneTimeCodesForm",
    "add_webauthn": "school.accounts.forms.AddPasskeyForm",
}
# Whether chief instructor and administrator must have a second step of logging in.
SECOND_STEP_REQUIRED = env.bool("SECOND_STEP_REQUIRED", default=not ON_THIS_MACHINE)
INVITATION_DAYS = 7
# How many proxies of the school's own stand before the application: the client's address is taken from what the
# outermost of them wrote in X-Forwarded-For.
TRUSTED_PROXIES = env.int("TRUSTED_PROXIES", default=0 if ON_THIS_MACHINE else 1)
SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "school.views.frame.csrf_failure"
CSRF_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"  # of moments; days are those of the school's own zone (school/days.py)
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
# What proves a signature (school/signature_keys.py): the secret in use first, then those before it. Old signatures are
# proved by the secret of their day, so none of them is ever taken away. Without one of its own it is SECRET_KEY.
SECRET_KEY_FALLBACKS = env.list("SECRET_KEY_FALLBACKS", default=[])
SIGNATURE_KEY = env.str("SIGNATURE_KEY", default="")
SIGNATURE_KEYS = [
    *([SIGNATURE_KEY] if SIGNATURE_KEY else []),
    *env.list("SIGNATURE_KEY_FALLBACKS", default=[]),
    SECRET_KEY,
    *SECRET_KEY_FALLBACKS,
]
# Names of keys that were lost, by which nothing can be proved any more: the check counts their signatures as such.
LOST_SIGNATURE_KEYS = env.list("LOST_SIGNATURE_KEYS", default=[])
if TIMESTAMP_SERVER and not TIMESTAMP_SERVER.startswith(("https://", "http://")):
    raise ImproperlyConfigured("TIMESTAMP_SERVER is asked over https or http: begin it so.")

# By how much a seal may be dated before the one before it: who waited for the other has read the clock earlier. More is
# a clock that was set back, and nothing is sealed by it. Where a clock was ahead once, its operator raises it.
SEAL_WAITING_SECONDS = env.int("SEAL_WAITING_SECONDS", default=300)

# The newest seal, outside the database: a copy of it that is older than this contradicts it. Empty for none.
SEAL_HEAD_FILE = env.str("SEAL_HEAD_FILE", default=str(VAR / "seals" / "head.json"))

# The largest file that a page takes is a hand-over; a little more for the form around it.
MAX_REQUEST_BYTES = 32 * 2**20
# Checks of sheets and fingerprints, which anybody may ask for: so many a minute from one address.
CHECKS_A_MINUTE = env.int("CHECKS_A_MINUTE", default=20)
# Where the places lie that readers of strangers' files take (school/file_reader.py): one folder for all processes.
READERS_FOLDER = env.str("READERS_FOLDER", default=str(VAR / "readers"))
# Much longer than the processor time that a reader has, since everything else goes first; the proxy waits 65 s.
READER_TIMEOUT = 55.0  # seconds

# Letters: on this machine they are printed where the program runs.
vars().update(env.email_url("EMAIL_URL", default="consolemail://" if ON_THIS_MACHINE else "smtp://localhost:25"))
DEFAULT_FROM_EMAIL = env.str("MAIL_FROM", default="records@" + ("localhost" if ON_THIS_MACHINE else ALLOWED_HOSTS[0]))
EMAIL_TIMEOUT = 20  # seconds
# Backups (manage.py back_up): where PostgreSQL's programs lie if not beside the server's, and what encrypts a backup.
POSTGRESQL_PROGRAMS = env.str("POSTGRESQL_PROGRAMS", default="")
BACKUP_PASSPHRASE = env.str("BACKUP_PASSPHRASE", default="")
BACKUP_PASSPHRASE_FILE = env.str("BACKUP_PASSPHRASE_FILE", default="")
# Where the worker writes a backup each day and keeps the newest; empty where a timer of the system does (.deploy/).
BACKUP_FOLDER = env.str("BACKUP_FOLDER", default="")
BACKUPS_KEPT = env.int("BACKUPS_KEPT", default=14)

STATIC_URL = "/static/"
STATIC_ROOT = env.str("STATIC_ROOT", default=str(VAR / "static"))
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "school.static_files.ModuleStorage"},
}
MEDIA_ROOT = VAR / "media"

# The queue: workers are `manage.py procrastinate worker`. One that is silent for three beats counts as killed.
HEARTBEAT = 10.0  # seconds
WORKER_TIMEOUT = 3 * HEARTBEAT
STALLED_JOBS_CRON = "* * * * *"  # how often jobs of killed workers are looked for
PRINT_JOBS_AT_ONCE = env.int("PRINT_JOBS_AT_ONCE", default=8)  # workers that may share one print run
DAILY_BY_WORKER = env.bool("DAILY_BY_WORKER", default=True)  # false where cron runs the commands of every day
PROCRASTINATE_AUTODISCOVER_MODULE_NAME = "operations.tasks"
PROCRASTINATE_ON_APP_READY = "grading.operations.tasks.register"
PROCRASTINATE_WORKER_DEFAULTS = {
    "update_heartbeat_interval": HEARTBEAT,
    "stalled_worker_timeout": WORKER_TIMEOUT,
    "shutdown_graceful_timeout": 2.0,  # then a job under way ends after its item and is taken up by another worker
}

# One JSON object a line where it is kept, plain lines on a terminal (school/logs.py).
LOGGING = logs.logging_settings(env.str("LOG_FORMAT", default="plain" if ON_THIS_MACHINE else "json"))

# What a monitor asks: /health/, /ready/ and, with the token in its Authorization header, /metrics/.
METRICS_TOKEN = env.str("METRICS_TOKEN", default="")
METRICS_FOLDER = env.str("METRICS_FOLDER", default=str(VAR / "metrics"))
MIN_FREE_DISK = env.int("LEAST_FREE_DISK_MB", default=500) * 1_000_000  # bytes
# PostgreSQL tells no role but its superuser where its files lie and what is free there. So it is said here: the folder,
# where it is on this machine, or how much of a disk elsewhere is for this database.
DATABASE_DISK = env.str("DATABASE_DISK", default=str(VAR / "postgres") if ON_THIS_MACHINE else "")
DATABASE_DISK_SHARE = env.int("DATABASE_DISK_MB", default=0) * 1_000_000  # bytes
