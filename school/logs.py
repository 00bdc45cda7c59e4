"""Format the log: one JSON object on each line, with nothing in it that a person typed and no names.

A line has "at" (UTC), "level", "logger", "message"; inside a request also "request" (its id), "view" and "person" (the
key of who is logged in); after an exception "fault": the class of each exception and its frames, file, line and
function. The text of an exception is left out because it quotes what was typed; an exception of the database has its
SQLSTATE, table and constraint instead. Local variables are never written.

Plain lines, with everything, are only for an installation on one's own machine (LOG_FORMAT=plain).
"""

import json
import logging
import re
import traceback
from contextvars import ContextVar
from datetime import UTC, datetime
from http.client import responses
from typing import Any

import psycopg
from django.http import HttpRequest

current_request: ContextVar[HttpRequest | None] = ContextVar("current", default=None)

EMAIL_ADDRESS = re.compile(r"[^\s<>@'\"=:,;(]+@[^\s<>@'\",;)]+")
QUERY_STRING = re.compile(r"(?<=[\w/])\?[^\s'\"]*")
# Their messages contain the requested path, and a path can contain what a person typed or a secret key.
LOGGERS_WITH_PATHS = ("django.request", "django.security", "django.server")
# Limits for one line: endless recursion, or a message that quotes a whole file, must not fill the disk.
MAX_FRAMES = 30
MAX_MESSAGE_LENGTH = 2000


class JsonLinesFormatter(logging.Formatter):
    """Format a record as one line of JSON; JSON escapes a line feed in a message, so nobody can forge a line."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            "level": record.levelname,
            "logger": record.name,
            "message": _message(record),
        }
        request = getattr(record, "request", None)
        line |= describe_request(request if isinstance(request, HttpRequest) else current_request.get())
        if isinstance(status := getattr(record, "status_code", None), int):
            line["status"] = status
        if record.exc_info and record.exc_info[1] is not None:
            line["fault"] = [_describe_exception(one) for one in _exception_chain(record.exc_info[1])]
        return json.dumps(line, ensure_ascii=False)


def describe_request(request: HttpRequest | None) -> dict[str, Any]:
    """Return id, view and person of a request for a line of the log."""
    if request is None:
        return {}
    labels: dict[str, Any] = {"request": getattr(request, "id", "")}
    if request.resolver_match is not None:
        labels["view"] = request.resolver_match.view_name
    # request.user would query the database, which may be what just failed; the cached user does not.
    person = getattr(request, "_cached_user", None)
    if person is not None and person.pk is not None:
        labels["person"] = person.pk
    return labels


def _message(record: logging.LogRecord) -> str:
    if record.name.startswith(LOGGERS_WITH_PATHS):
        status = getattr(record, "status_code", None)
        return responses.get(status, str(status)) if isinstance(status, int) else record.name.rpartition(".")[2]
    if record.name.startswith("gunicorn") and record.exc_info:
        return str(record.msg).replace("%s", "…")  # the argument is the address with its query
    try:
        words = record.getMessage()
    except (TypeError, ValueError):  # arguments that do not fit: left to itself, logging would print them all
        words = f"{record.msg} (its arguments do not fit)"
    return QUERY_STRING.sub("", EMAIL_ADDRESS.sub("[address]", words))[:MAX_MESSAGE_LENGTH]


def _exception_chain(fault: BaseException) -> list[BaseException]:
    """Return an exception and its causes, the first cause first."""
    chain: list[BaseException] = []
    step: BaseException | None = fault
    # A chain of causes may close into a circle.
    while step is not None and step not in chain:
        chain.insert(0, step)
        step = step.__cause__ or (None if step.__suppress_context__ else step.__context__)
    return chain


def _describe_exception(fault: BaseException) -> dict[str, Any]:
    # The last frames, because the failure is at their end.
    frames = traceback.extract_tb(fault.__traceback__)[-MAX_FRAMES:]
    description: dict[str, Any] = {
        "class": f"{type(fault).__module__}.{type(fault).__qualname__}",
        "through": [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames],
    }
    if isinstance(fault, psycopg.Error):
        about = {"sqlstate": fault.sqlstate, "table": fault.diag.table_name, "constraint": fault.diag.constraint_name}
        description |= {name: value for name, value in about.items() if value}
    return description


def logging_settings(form: str) -> dict[str, Any]:
    """Return Django's LOGGING for "json" or "plain". Lines go to standard error, for the system's journal to store."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "json": {"()": "school.logs.JsonLinesFormatter"},
            "plain": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"},
        },
        "handlers": {"console": {"class": "logging.StreamHandler", "formatter": form}},
        "root": {"handlers": ["console"], "level": "WARNING"},
        # Django's own handlers would write each line a second time, or mail it.
        "loggers": {name: {"handlers": [], "level": "WARNING"} for name in ("django", "django.server")},
    }
