"""Settings of worker processes that a test starts: its database, the application's role, short periods."""

import os

from tests.settings import *  # noqa: F403
from tests.settings import DATABASES

DATABASES["default"]["NAME"] = os.environ["WORKER_DATABASE"]
DATABASES["default"]["USER"] = "record_app"
HEARTBEAT = 0.5
WORKER_TIMEOUT = 3.0  # a worker that loads its libraries on a busy machine is silent for a while
STALLED_JOBS_CRON = "* * * * * *"  # each second
PROCRASTINATE_WORKER_DEFAULTS = {
    "update_heartbeat_interval": HEARTBEAT,
    "stalled_worker_timeout": WORKER_TIMEOUT,
    "shutdown_graceful_timeout": 2.0,
}
