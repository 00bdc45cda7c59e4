"""The application server, behind nginx on the same machine. Read by `gunicorn --config`."""

import os

bind = os.environ.get("GUNICORN_SOCKET", "unix:/run/training-record/web.sock")
umask = 0o007  # the socket is for its account and group; nginx is in the group
workers = int(os.environ.get("WEB_WORKERS", "3"))  # two a core and one more, 150 MB each
threads = 4
timeout = 60  # a large sheet is laid out well within
graceful_timeout = 30
max_requests = 5000  # a process is replaced now and then, not all at once
max_requests_jitter = 500
forwarded_allow_ips = "*"  # only nginx can open the socket
worker_tmp_dir = "/dev/shm"  # noqa: S108 - a heartbeat does not wait for a disk
control_socket_disable = True
limit_request_line = 4094
limit_request_fields = 50

# One JSON object a line on standard error, as the application writes (school/logs.py). nginx keeps account of requests.
accesslog = None
logconfig_dict = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": {"()": "school.logs.JsonLinesFormatter"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "json"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"gunicorn.error": {"handlers": ["console"], "level": "INFO", "propagate": False}},
}
