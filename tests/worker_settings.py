"""Settings of worker processes that a test starts: its database, the application's role, short periods."""

import os

from tests.settings import *  # noqa: F403
from tests.settings import DATABASES

DATABASES["default"]["NAME"] = os.environ["WORKER_DATABASE"]
DATABASES["default"]["USER"] = "record_app"
HEARTBEAT = 0.5
WORKER_GIVEN_UP_AFTER = 3.0  # a worker that loads its libraries on a busy machine is silent for a while
TAKE_UP_AGAIN = "* * * * * *"  # each second
PROCRASTINATE_WORKER_DEFAULTS = {
    "update_heartbeat_interval": HEARTBEAT,
    "stalled_worker_timeout": WORKER_GIVEN_UP_AFTER,
    "shutdown_graceful_timeout": 2.0,
}
