"""Settings of the servers that an endurance run starts: those of the tests, over HTTP, with short periods."""

from tests.settings import *  # noqa: F403

ON_THIS_MACHINE = True  # prints are signed with a demonstration key
SECOND_STEP_REQUIRED = False  # the cast has passwords alone
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = False
READER_TIMEOUT = 55.0
HEARTBEAT = 0.5
WORKER_TIMEOUT = 3.0
STALLED_JOBS_CRON = "* * * * * *"  # each second
PROCRASTINATE_WORKER_DEFAULTS = {
    "update_heartbeat_interval": HEARTBEAT,
    "stalled_worker_timeout": WORKER_TIMEOUT,
    "shutdown_graceful_timeout": 2.0,
}
