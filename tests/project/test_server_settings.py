"""The settings of a server on the internet, as its environment gives them: read by a process of its own.

Source: RFC 6797 (HSTS), RFC 6265bis (prefixes of cookies), from memory; django.core.checks --deploy is in .ci/run.
"""

import json
import os
import subprocess
import sys

import pytest
from django.conf import settings

NAMES = (
    "DEBUG", "SESSION_COOKIE_NAME", "SESSION_COOKIE_SECURE", "SESSION_COOKIE_HTTPONLY", "SESSION_COOKIE_SAMESITE",
    "CSRF_COOKIE_NAME", "CSRF_COOKIE_SECURE", "CSRF_COOKIE_HTTPONLY", "CSRF_COOKIE_SAMESITE", "DISPLAY_COOKIE",
    "SECURE_SSL_REDIRECT", "SECURE_HSTS_SECONDS", "SECURE_HSTS_INCLUDE_SUBDOMAINS", "CONTENT_SECURITY_POLICY",
    "TRUSTED_PROXIES", "CHECKS_A_MINUTE", "ALLOWED_HOSTS",
)  # fmt: skip
GIVEN = {
    "DATABASE_URL": "postgres://nobody@127.0.0.1/none", "SECRET_KEY": "only-of-this-test" * 4,
    "ALLOWED_HOSTS": "records.example", "PATH": os.defpath,
}  # fmt: skip
# A page asked for over http, with a host that is not ours, and over https.
PROGRAM = f"""
import json, django
django.setup()
from django.conf import settings
from django.test import Client
from django.test.utils import setup_test_environment
ask = lambda **more: Client().get("/tablet/no-such", **more)
plain, wrong = ask(headers={{"Host": "records.example"}}), ask(headers={{"Host": "elsewhere.example"}})
told = {{name: getattr(settings, name) for name in {NAMES!r}}}
answers = [[row.status_code, dict(row.items())] for row in (plain, wrong)]
print(json.dumps([told, answers]))
"""


def run_with_environment(program: str, **given: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", program], env=GIVEN | {"DJANGO_SETTINGS_MODULE": "school.settings"} | given,
        cwd=settings.BASE_DIR, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(done.stderr)
    return done.stdout


def test_a_server_is_strict() -> None:
    told, (plain, wrong) = json.loads(run_with_environment(PROGRAM).splitlines()[-1])
    assert told["DEBUG"] is False
    for kind in ("SESSION", "CSRF"):
        assert told[f"{kind}_COOKIE_NAME"].startswith("__Host-")
        assert told[f"{kind}_COOKIE_SECURE"] is told[f"{kind}_COOKIE_HTTPONLY"] is True
        assert told[f"{kind}_COOKIE_SAMESITE"] == "Lax"
    assert told["DISPLAY_COOKIE"] == "__Host-light"
    assert told["SECURE_HSTS_SECONDS"] >= 365 * 24 * 3600
    assert told["SECURE_HSTS_INCLUDE_SUBDOMAINS"] is True
    assert told["CONTENT_SECURITY_POLICY"]["DIRECTIVES"]["upgrade-insecure-requests"] is True
    assert (told["ALLOWED_HOSTS"], told["TRUSTED_PROXIES"]) == (["records.example"], 1)
    assert (plain[0], plain[1]["Location"]) == (301, "https://records.example/tablet/no-such")
    assert wrong[0] == 400
    for _, headers in (plain, wrong):
        assert "upgrade-insecure-requests" in headers["Content-Security-Policy"]
        assert headers["Cache-Control"] == "no-store"
        assert headers["X-Content-Type-Options"] == "nosniff"


def test_this_machine_alone_speaks_http() -> None:
    assert settings.CONTENT_SECURITY_POLICY["DIRECTIVES"]["upgrade-insecure-requests"] is False
    assert settings.SESSION_COOKIE_NAME == "sessionid"


@pytest.mark.parametrize(
    "given",
    [{"TIMESTAMP_SERVER": "file:///etc/passwd"}, {"SECRET_KEY": ""}, {"ALLOWED_HOSTS": ""}, {"ALLOWED_HOSTS": "*"}],
)
def test_a_server_that_could_not_be_safe_does_not_start(given: dict[str, str]) -> None:
    with pytest.raises(RuntimeError, match="ImproperlyConfigured"):
        run_with_environment("import school.settings", **given)
