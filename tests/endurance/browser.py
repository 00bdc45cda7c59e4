"""Somebody at a browser or a tablet that keeps trying, over real connections that may break."""

import json
import secrets
from http.client import HTTPConnection, HTTPException
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.test import Client

from school.models import Person

ANSWER_TIMEOUT = 30.0  # seconds for an answer


class NoAnswer(Exception):
    """No answer came: what was asked may have been done or not."""


class Browser:
    def __init__(self, port: int, person: Person) -> None:
        client = Client()
        client.force_login(person)
        self.person, self.port = person, port
        self.token = secrets.token_hex(16)
        session = settings.SESSION_COOKIE_NAME
        self.cookies = f"{session}={client.cookies[session].value}; {settings.CSRF_COOKIE_NAME}={self.token}"

    def ask(self, method: str, path: str, body: str | bytes = b"", kind: str = "") -> tuple[int, dict[str, str], bytes]:
        headers = {"Cookie": self.cookies, "X-CSRFToken": self.token, "Content-Type": kind}
        connection = HTTPConnection("127.0.0.1", self.port, timeout=ANSWER_TIMEOUT)
        try:
            connection.request(method, path, body, headers)
            reply = connection.getresponse()
            return reply.status, {name.lower(): value for name, value in reply.getheaders()}, reply.read()
        except (OSError, HTTPException) as error:
            raise NoAnswer(str(error)) from error
        finally:
            connection.close()

    def post(self, path: str, **fields: str) -> tuple[int, dict[str, str], bytes]:
        return self.ask("POST", path, urlencode(fields), "application/x-www-form-urlencoded")

    def batch(self, lesson: object, device: str, events: list[dict[str, Any]]) -> tuple[int, Any]:
        body = json.dumps({"person": self.person.pk, "device": device, "events": events})
        status, _, answer = self.ask("POST", f"/lessons/{lesson}/entries/batch/", body, "application/json")
        return status, json.loads(answer) if status == 200 else answer
